import type { JobSaid, PrinterCondition } from '../../parts/engine.ts';
import { createPrintEngine } from '../../print/engine.ts';
import { planPattern } from '../../print/pattern.ts';
import type { Bench, Finding, Trial } from './bench.ts';
import { agreed, until } from './bench.ts';
import { cautions } from './cautions.ts';

const reasons: Partial<Record<keyof PrinterCondition, string>> = {
  lost: 'it doesn’t answer',
  paperOut: 'it has no paper',
  lidOpen: 'its lid is open',
  headHot: 'its head is hot',
  offLine: 'it is off line',
};

const run = async (bench: Bench): Promise<Finding[]> => {
  const { clock, printer } = bench.rig;
  const engine = createPrintEngine({ clock, printer, profile: bench.profile, config: bench.config, imprint: null });
  const seen: { condition: PrinterCondition | null; job: JobSaid | null } = { condition: null, job: null };
  const close = engine.open(said => {
    if (said.kind === 'condition') seen.condition = said.condition;
  });
  try {
    await until(bench, () => seen.condition !== null, 8000);
    const { condition } = seen;
    const against =
      condition === null
        ? ['it doesn’t answer']
        : Object.entries(reasons).flatMap(([key, words]) => (condition[key as keyof PrinterCondition] ? [words] : []));
    if (against.length > 0) {
      bench.say(`The printer can’t print now: ${against.join(', ')}.\n`);
      return [];
    }
    bench.say(
      'The test pattern: ruler, steps of heating time, of speed, of density, tones, and a probe of the buffer.\n',
    );
    const started = clock.nowUs();
    const { link, flow } = bench.config.printer;
    engine.printPlan(
      situation => planPattern(situation, link !== 'serial' || flow !== 'none'),
      said => {
        seen.job = said;
      },
    );
    const over = () => seen.job !== null && seen.job.kind !== 'progress';
    await until(bench, over, 120_000);
    if (seen.job?.kind !== 'done') {
      bench.say('The pattern was not printed to its end.\n');
      return [];
    }
    bench.say(`Printed in ${((clock.nowUs() - started) / 1e6).toFixed(1)} s.\n`);
    engine.feed(Math.round((bench.profile.tearMm + 2) * bench.profile.dotsPerMm), () => {});
    await bench.pause(1500);
    if (!agreed(await bench.ask(`Does the ruler show all ${bench.profile.widthDots} dots? [y/n] `)))
      bench.say(
        'Then take the profile of a narrower class, or set widthDots in one of your own: see config/profiles/README.md.\n',
      );
    return [];
  } finally {
    close();
  }
};

export const printerTrial: Trial = {
  part: 'printer',
  does: 'prints a test pattern',
  cautions: [cautions.head, cautions.cells, cautions.paper, cautions.general],
  run,
};
