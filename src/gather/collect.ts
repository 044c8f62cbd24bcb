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

/** A scan's name without folder and ending, in letters, digits, dot, dash and underscore alone. */
const plain = (path: string): string => {
  const name = path.slice(path.lastIndexOf('/') + 1).replace(/(?<=.)\.[^.]*$/, '');
  return name.replace(/[^\p{L}\p{N}._-]+/gu, '_').replace(/^\.+/, '');
};

/** Merges what several scans have of one picture; the best is kept. Pictures without a name are never merged. */
export const collect = (scans: readonly { scan: string; pictures: readonly Gathered[] }[]): Collected[] => {
  const named = new Map<string, Collected>();
  const unnamed: Collected[] = [];
  // Scans of one name in two folders count on.
  const counts = new Map<string, number>();
  for (const { scan, pictures } of scans) {
    for (const gathered of pictures) {
      if (!gathered.name) {
        const count = (counts.get(plain(scan)) ?? 0) + 1;
        counts.set(plain(scan), count);
        unnamed.push({ title: `unnamed-${plain(scan)}-${count}`, scan, alsoOn: [], gathered });
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
