import type { Head } from './head.ts';
import type { Mechanism } from './mechanism.ts';
import type { Senses } from './status.ts';
import { isOffLine } from './status.ts';

/** What the printer feels: the roll, the lid, its head, its button. */
export interface Sensors {
  readonly senses: Senses;
  readonly offLine: boolean;
  readonly rollLines: number;
  /** What is felt outright. */
  feel(change: Partial<Pick<Senses, 'lidOpen' | 'feeding' | 'broken' | 'cutterJammed'>>): void;
  /** A sensor that says so whatever is there. */
  force(change: Partial<Pick<Senses, 'paperOut' | 'nearEnd' | 'hot'>>): void;
  /** Lines of paper that left the roll; negative: that came back. */
  use(lines: number): void;
  loadRoll(lines: number): void;
  /** The head may have become too hot, or cool enough. */
  checkHeat(): void;
}

export const createSensors = (
  mechanism: Mechanism,
  head: Head,
  nowUs: () => number,
  startLines: number,
  /** Runs something after a delay with everything that arrives meanwhile taken into account. */
  later: (delayUs: number, run: () => void) => void,
  heard: (before: Senses, after: Senses) => void,
): Sensors => {
  const nearLines = mechanism.nearEndMm * mechanism.dotsPerMm;
  let forced = { paperOut: false, nearEnd: false, hot: false };
  let felt = { lidOpen: false, feeding: false, broken: false, cutterJammed: false };
  let rollLines = startLines;
  let ownHot = false;

  const rollEnds = () => forced.paperOut || rollLines <= 0;
  const rollNearEnd = () => forced.nearEnd || (nearLines > 0 && rollLines <= nearLines);
  const feelAll = (): Senses => ({ ...felt, paperOut: rollEnds(), nearEnd: rollNearEnd(), hot: forced.hot || ownHot });
  let senses = feelAll();
  let offLine = isOffLine(senses);

  const update = () => {
    const before = senses;
    senses = feelAll();
    offLine = isOffLine(senses);
    heard(before, senses);
  };
  const checkHeat = () => {
    if (!ownHot && head.temperatureC(nowUs()) < mechanism.head.stopC) return;
    const coolsInUs = head.coolsInUs(mechanism.head.goC, nowUs());
    const was = ownHot;
    ownHot = coolsInUs > 0;
    if (coolsInUs > 0 && coolsInUs < Number.POSITIVE_INFINITY) later(Math.ceil(coolsInUs) + 1, checkHeat);
    if (was !== ownHot) update();
  };

  return {
    get senses() {
      return senses;
    },
    get offLine() {
      return offLine;
    },
    get rollLines() {
      return Math.max(0, rollLines);
    },
    feel(change) {
      felt = { ...felt, ...change };
      update();
    },
    force(change) {
      forced = { ...forced, ...change };
      update();
    },
    use(lines) {
      rollLines -= lines;
      if (rollEnds() !== senses.paperOut || rollNearEnd() !== senses.nearEnd) update();
    },
    loadRoll(lines) {
      rollLines = lines;
      forced = { ...forced, paperOut: false, nearEnd: false };
      update();
    },
    checkHeat,
  };
};
