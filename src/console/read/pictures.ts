import type { LogRecord } from './own.ts';

/** All that the log said of one picture; a field is missing where its line was. Times in µs, from the press on. */
export interface PictureRecord {
  picture: number;
  /** How it ended: on paper, without a fit frame, or not yet. */
  outcome: 'printed' | 'missed' | 'pending';
  /** Wall time of the last line, ms since 1970. */
  time: number;
  /** µs since boot of the last line. */
  mono: number;
  pressToCoilUs?: number;
  pressToFrameUs?: number;
  keepUs?: number;
  /** False where it was in memory only. */
  kept?: boolean;
  developUs?: number;
  inkPercent?: number;
  pressToDotUs?: number;
  printUs?: number;
  paperLeftMm?: number;
  picturesLeft?: number;
  /** How often its print was cut short before. */
  cuts?: number;
  why?: string;
}

export interface PictureJoiner {
  /** Takes a record; gives the picture that ends with it. */
  take(record: LogRecord): PictureRecord | null;
  /** Pictures that began and haven't ended, oldest first. */
  pending(): PictureRecord[];
}

/** More can't be on their way: the queue is shorter. Older ones are forgotten. */
const mostPending = 256;

const set = <K extends keyof PictureRecord>(picture: PictureRecord, name: K, value: unknown) => {
  if (value !== null && value !== undefined) picture[name] = value as PictureRecord[K];
};

/** One record a picture, out of the lines that speak of it. */
export const createPictureJoiner = (): PictureJoiner => {
  const pictures = new Map<number, PictureRecord>();
  const of = (record: LogRecord): PictureRecord => {
    const shot = record.shot as number;
    let picture = pictures.get(shot);
    if (!picture) {
      picture = { picture: shot, outcome: 'pending', time: 0, mono: 0 };
      pictures.set(shot, picture);
      if (pictures.size > mostPending) pictures.delete(pictures.keys().next().value as number);
    }
    picture.time = record.time;
    picture.mono = record.mono;
    return picture;
  };
  const end = (picture: PictureRecord, outcome: PictureRecord['outcome']): PictureRecord => {
    pictures.delete(picture.picture);
    picture.outcome = outcome;
    return picture;
  };

  return {
    take(record) {
      if (typeof record.shot !== 'number') return null;
      const picture = of(record);
      switch (record.event) {
        case 'coil':
          if (record.stroke === 'first') set(picture, 'pressToCoilUs', record.pressToCoilUs);
          return null;
        case 'frame':
          set(picture, 'pressToFrameUs', record.pressToFrameUs);
          return null;
        case 'kept':
          set(picture, 'keepUs', record.keepUs);
          picture.kept = true;
          return null;
        case 'not-kept':
          picture.kept = false;
          return null;
        case 'developed':
          set(picture, 'developUs', record.developUs);
          set(picture, 'inkPercent', record.inkPercent);
          return null;
        case 'print-begun':
          // After a restart nobody knows any more when it was pressed for.
          if (record.pressToDotUs !== 0) picture.pressToDotUs ??= record.pressToDotUs as number;
          return null;
        case 'print-cut':
          picture.cuts = (picture.cuts ?? 0) + 1;
          return null;
        case 'printed':
          for (const name of ['printUs', 'paperLeftMm', 'picturesLeft'] as const) set(picture, name, record[name]);
          return end(picture, 'printed');
        case 'missed':
          set(picture, 'why', record.why);
          return end(picture, 'missed');
        default:
          return null;
      }
    },
    pending: () => [...pictures.values()],
  };
};
