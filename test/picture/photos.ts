import { existsSync, readFileSync } from 'node:fs';
import { decodePhoto } from '../../src/picture/image.ts';
import type { Luma } from '../../src/picture/luma.ts';

const folder = '/usr/lib/python3/dist-packages/skimage/data';
/** Photographs that Debian's python3-skimage brings along. */
export const photoNames = ['astronaut', 'camera', 'chelsea', 'coffee', 'rocket'] as const;
export const photoPath = (name: string): string => {
  const found = ['png', 'jpg'].map(kind => `${folder}/${name}.${kind}`).find(path => existsSync(path));
  return found ?? `${folder}/${name}.png`;
};
export const havePhotos: boolean = photoNames.every(name => existsSync(photoPath(name)));
export const photo = (name: string): Luma => decodePhoto(readFileSync(photoPath(name)), name);
export const python = '/usr/bin/python3';
