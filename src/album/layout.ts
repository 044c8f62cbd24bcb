/**
 * Where things lie in the album's folder.
 * ```
 * journal                 what is kept, printed, asked for, and paper used: entries since it was last put in short
 * pictures/0012/012345/   frame.png or frame.jpg, about.json, dots.png
 * wanted/012345           a request to print a picture once more
 * ```
 * Pictures are named by their numbers, never by time: a board without a clock starts in 1970 after each boot. The
 * folders of the next few pictures are there before those are taken, each with an empty frame.
 */
export const journalPath = 'journal';
export const newJournalPath = 'journal.new';
export const pictures = 'pictures';
export const wanted = 'wanted';

const picturesAShelf = 1000;

export const shotName = (shot: number): string => String(shot).padStart(6, '0');
export const shelfOf = (shot: number): number => Math.floor(shot / picturesAShelf);
export const shelfName = (shelf: number): string => String(shelf).padStart(4, '0');
export const shelfPath = (shot: number): string => `${pictures}/${shelfName(shelfOf(shot))}`;
export const picturePath = (shot: number): string => `${shelfPath(shot)}/${shotName(shot)}`;

const numberOf = (name: string): number | null => (/^\d{1,12}$/.test(name) ? Number(name) : null);

/** Numbers among names, least first; names of somebody else's are passed over. */
export const numbersIn = (names: readonly string[]): number[] =>
  names
    .map(numberOf)
    .filter(number => number !== null)
    .sort((a, b) => a - b);

/** Bounds for what is read from a disk that may be damaged: no webcam's frame is longer, and no journal. */
export const longestFrameBytes = 128_000_000;
export const longestJournalBytes = 64_000_000;
