import type { Bench, Finding, Outcome, Trial } from './bench.ts';
import { fails, until, works } from './bench.ts';

/** Ganssle, A Guide to Debouncing: sixteen switches, figures as quoted. */
export const studiedBounceUs = { mean: 1557, longest: 6200 };
/** Edges closer than this belong to one closing or opening. */
const quietUs = 25_000;
const wantedPresses = 10;

export interface BounceStudy {
  /** From the first to the last edge of each closing or opening, µs. */
  bouncesUs: number[];
  meanUs: number;
  longestUs: number;
}

/** Groups raw edges (stamps in µs, ascending) to closings and openings. */
export const studyBounce = (edgesUs: readonly number[]): BounceStudy => {
  const bouncesUs: number[] = [];
  let first = Number.NEGATIVE_INFINITY;
  let last = Number.NEGATIVE_INFINITY;
  for (const at of edgesUs) {
    if (at - last > quietUs) {
      if (Number.isFinite(first)) bouncesUs.push(last - first);
      first = at;
    }
    last = at;
  }
  if (Number.isFinite(first)) bouncesUs.push(last - first);
  const meanUs = bouncesUs.reduce((sum, us) => sum + us, 0) / Math.max(1, bouncesUs.length);
  return { bouncesUs, meanUs, longestUs: Math.max(0, ...bouncesUs) };
};

const boundsUs = [100, 300, 1000, 2000, 4000, 6000, 10_000, Number.POSITIVE_INFINITY];

/** Counts by length, as bars. */
export const bounceHistogram = ({ bouncesUs }: BounceStudy): string => {
  let from = 0;
  return boundsUs
    .map(bound => {
      const count = bouncesUs.filter(us => us >= from && us < bound).length;
      const label = Number.isFinite(bound) ? `under ${String(bound).padStart(6)} µs` : `    over 10000 µs`;
      from = bound;
      return `  ${label.padStart(17)}  ${'▇'.repeat(Math.min(50, count))}${count ? ` ${count}` : ''}\n`;
    })
    .join('');
};

/** Settle time with a third to spare over the longest bounce seen, and over the study's where that is longer. */
export const settleMsFor = ({ longestUs }: BounceStudy): number =>
  Math.ceil(Math.max(longestUs * 1.33, studiedBounceUs.longest * 1.1) / 1000);

const ms = (us: number): string => `${(us / 1000).toFixed(1)} ms`;

const run = async (bench: Bench): Promise<Outcome> => {
  const edgesUs: number[] = [];
  let down = false;
  let downAtFirst = false;
  /** The press that is on: when it began, its bounce at closing, and what is seen of it so far. */
  const presses: { closedUs: number; lastClosingUs: number; openedUs: number; lastUs: number }[] = [];
  const undo = bench.rig.button.listen(said => {
    const press = presses.at(-1);
    if (said.down && !down && said.atUs - (press?.lastUs ?? Number.NEGATIVE_INFINITY) > quietUs)
      presses.push({ closedUs: said.atUs, lastClosingUs: said.atUs, openedUs: 0, lastUs: said.atUs });
    else if (press) {
      if (press.openedUs === 0 && said.atUs - press.lastUs <= quietUs) press.lastClosingUs = said.atUs;
      else if (press.openedUs === 0) press.openedUs = said.atUs;
      press.lastUs = said.atUs;
    }
    down = said.down;
    edgesUs.push(said.atUs);
  });
  try {
    await bench.pause(100);
    downAtFirst = down;
    // The level found is no edge.
    presses.length = 0;
    edgesUs.length = 0;
    bench.say(`The contact is ${down ? 'closed' : 'open'} now.\n`);
    bench.say(
      `Press and release the button ${wantedPresses} times, the way you would at a party. Half a minute is given.\n`,
    );
    bench.hand('press', wantedPresses);
    let told = 0;
    await until(
      bench,
      () => {
        const done =
          down || bench.nowUs() - (presses.at(-1)?.lastUs ?? 0) < quietUs ? presses.length - 1 : presses.length;
        for (; told < done; told++) {
          const { closedUs, lastClosingUs, openedUs, lastUs } = presses[told];
          const opened = openedUs === 0 ? lastUs : openedUs;
          bench.say(
            `  press ${told + 1}: closed for ${Math.round((opened - closedUs) / 1000)} ms, bounced ${ms(lastClosingUs - closedUs)} closing, ${ms(lastUs - opened)} opening\n`,
          );
        }
        return told >= wantedPresses;
      },
      30_000,
    );
  } finally {
    undo();
  }
  if (presses.length === 0) {
    bench.say('Nothing was heard: is the line the right one, and does a press pull it (button.line, button.pull)?\n');
    return fails;
  }
  const study = studyBounce(edgesUs);
  bench.say(
    `${study.bouncesUs.length} closings and openings; bounce ${Math.round(study.meanUs)} µs in the mean, ${study.longestUs} µs at the longest.\n` +
      `Sixteen switches of a published study: ${studiedBounceUs.mean} µs in the mean, ${studiedBounceUs.longest} µs at the longest.\n` +
      bounceHistogram(study),
  );
  const settle: Finding = {
    path: ['button', 'settleMs'],
    value: settleMsFor(study),
    why: `longest bounce seen ${study.longestUs} µs, longest of the study ${studiedBounceUs.longest} µs`,
  };
  if (!down) return works(settle);
  const { activeLow } = bench.config.button;
  if (!downAtFirst || !(await bench.sees('Was nobody pressing it at the beginning, and is nobody now?'))) {
    bench.say(
      `The contact counts as closed though you let go: it stays closed, or button.activeLow should be ${!activeLow}.\n`,
    );
    return fails;
  }
  bench.say('Then it counts the wrong way round.\n');
  const why = 'closed when nobody presses';
  return works({ path: ['button', 'activeLow'], value: !activeLow, why }, settle);
};

export const buttonTrial: Trial = {
  part: 'button',
  does: 'listens to the contact and measures its bounce',
  cautions: [],
  unfitted: ({ button }) => (button.line === null ? 'button.line' : ''),
  run,
};
