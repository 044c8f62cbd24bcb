import type { Dots } from '../parts/darkroom.ts';
import type { Gathered } from './develop.ts';
import { develop } from './develop.ts';
import type { Grey } from './grey.ts';
import type { Plane } from './restore.ts';
import { survey } from './survey.ts';

export interface ScanResult {
  pictures: Gathered[];
  /** What a person should know: parts of pictures, a mirrored scan, nothing found and why. */
  notes: string[];
}

/**
 * Every picture on one scan.
 * @param restore Printed dots to gamma-coded tone.
 */
export const gatherScan = (image: Grey, restore: (dots: Dots) => Plane): ScanResult => {
  const { scan, sightings, notes } = survey(image);
  return { pictures: sightings.map(sighting => develop(scan, sighting, restore)), notes };
};
