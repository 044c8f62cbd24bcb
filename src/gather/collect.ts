import type { Gathered } from './develop.ts';

/** A picture as it goes to a file: the best of what the scans had of it. */
export interface Collected {
  /** File name without ending: `SLIP-000123`, or `unnamed-SCAN-2`. */
  title: string;
  /** The scan it was taken from, and others that show it too. */
  scan: string;
  alsoOn: string[];
  gathered: Gathered;
}

const quality = ({ dots, pxPerDot, contrast }: Gathered): number => (dots ? 1000 : 0) + pxPerDot * (1 + contrast);

export const titleOf = ({ mark, shot }: { mark: string; shot: number }): string =>
  `${mark}-${String(shot).padStart(6, '0')}`;

/** Only letters, digits, dot, dash and underscore, so that a scan's name can't lead out of the folder. */
const plain = (name: string): string => name.replace(/[^\p{L}\p{N}._-]+/gu, '_').replace(/^\.+/, '');

/** Merges what several scans have of one picture; the best is kept. Pictures without a name are never merged. */
export const collect = (scans: readonly { scan: string; pictures: readonly Gathered[] }[]): Collected[] => {
  const named = new Map<string, Collected>();
  const unnamed: Collected[] = [];
  for (const { scan, pictures } of scans) {
    let count = 0;
    for (const gathered of pictures) {
      if (!gathered.name) {
        unnamed.push({ title: `unnamed-${plain(scan)}-${++count}`, scan, alsoOn: [], gathered });
        continue;
      }
      const title = titleOf(gathered.name);
      const known = named.get(title);
      if (!known) named.set(title, { title, scan, alsoOn: [], gathered });
      else if (quality(gathered) > quality(known.gathered))
        named.set(title, { title, scan, alsoOn: [...known.alsoOn, known.scan], gathered });
      else known.alsoOn.push(scan);
    }
  }
  return [...[...named.values()].sort((a, b) => (a.title < b.title ? -1 : 1)), ...unnamed];
};
