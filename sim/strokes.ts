import type { TraceSample } from './traces.ts';

export interface Span {
  fromUs: number;
  toUs: number;
}

/** Times at which a trace was on; one that is still on ends at `endUs`. */
export const spansOf = (samples: readonly TraceSample[], endUs: number): Span[] => {
  const spans: Span[] = [];
  let fromUs: number | null = null;
  for (const { atUs, value } of samples) {
    if (value !== 0 && fromUs === null) fromUs = atUs;
    if (value === 0 && fromUs !== null) {
      spans.push({ fromUs, toUs: atUs });
      fromUs = null;
    }
  }
  if (fromUs !== null) spans.push({ fromUs, toUs: endUs });
  return spans;
};

/** A contact that stayed closed long enough to count: when it closed, and when it had been still for long enough. */
export interface SettledPress {
  closedUs: number;
  settledUs: number;
}

export const settledPresses = (contact: readonly TraceSample[], settleUs: number, endUs: number): SettledPress[] =>
  spansOf(contact, endUs)
    .filter(({ fromUs, toUs }) => toUs - fromUs >= settleUs)
    .map(({ fromUs }) => ({ closedUs: fromUs, settledUs: fromUs + settleUs }));

/** A picture as the coil tells it: the first stroke answers a press, the second says that it is safe. */
export interface Shot {
  press: SettledPress;
  firstUs: number;
  /** Null: never acknowledged. */
  secondUs: number | null;
  /** A stroke that could have been either kind makes the acknowledgement doubtful. */
  sure: boolean;
}

/** A pulse of the coil, or one that was asked for but couldn't be driven. */
export interface Stroke {
  atUs: number;
  sounded: boolean;
}

export interface ReadStrokes {
  shots: Shot[];
  /** Strokes that answer nothing. */
  stray: number[];
}

/** Between the contact's settling and the first stroke, when nothing stood in the way. */
const promptUs = 2000;

/**
 * Tells first strokes from second ones without the program's word: a first stroke comes right after a contact settled;
 * any other must be the second of the last first. `mayBeLate` says whether something between two times (a stall, a head
 * that needed the supply) can have held a first stroke up.
 */
export const readStrokes = (
  strokes: readonly Stroke[],
  presses: readonly SettledPress[],
  mayBeLate: (fromUs: number, toUs: number) => boolean,
): ReadStrokes => {
  const shots: Shot[] = [];
  const stray: number[] = [];
  let open: Shot | null = null;
  let next = 0;
  for (const { atUs, sounded } of strokes) {
    while (next < presses.length && presses[next].settledUs <= atUs) next++;
    const press = next > 0 ? presses[next - 1] : null;
    const prompt = press !== null && atUs - press.settledUs <= promptUs;
    const late = press !== null && !prompt && mayBeLate(press.closedUs, atUs);
    if (press && (prompt || late) && (!open || open.press !== press)) {
      const doubtful: boolean = open !== null || (late && shots.at(-1)?.press === press);
      open = { press, firstUs: atUs, secondUs: null, sure: !doubtful };
      shots.push(open);
    } else if (open) {
      // One that nobody heard acknowledges nothing.
      if (sounded) open.secondUs = atUs;
      open = null;
    } else stray.push(atUs);
  }
  return { shots, stray };
};
