import type { JobSaid, PrinterCondition } from '../../parts/engine.ts';
import { createPrintEngine } from '../../print/engine.ts';
import { planPattern } from '../../print/pattern.ts';
import { whyNot } from '../../print/why-not.ts';
import type { Bench, Outcome, Trial } from './bench.ts';
import { fails, unjudged, until, works } from './bench.ts';
import { cautions } from './cautions.ts';

/** What each part of the pattern is for: the profile holds what is read from it. */
const readingOf = ({ profile, config }: Bench): string => {
  const { commands } = profile;
  const probed = config.printer.link === 'serial' && config.printer.flow === 'none' && commands.image === 'raster';
  const rows: [string, string, boolean][] = [
    ['ruler', 'ticks that are missing the head hasn’t: widthDots', true],
    ['heating', 'the shortest time that is black without gaps: head.heatingUs', commands.heat === 'panel'],
    [
      'at once',
      'the most that are even and black, while the supply bears them: head.dotsAtOnce',
      commands.heat === 'panel',
    ],
    [
      'speed',
      probed
        ? 'the last step of whole squares, before those that fall apart: motor.mmPerS'
        : 'the last step of even squares: motor.mmPerS; flow control keeps them whole',
      commands.heat === 'panel' && commands.image === 'raster',
    ],
    ['density', 'whether the setting does anything: commands.density', commands.density === 'panel'],
    ['tones', 'nine steps that can be told apart; slipshutter wedge measures them', true],
    ['buffer', 'marks that came out, times the bytes of one: bufferBytes', probed],
  ];
  const shown = rows.filter(([, , there]) => there).map(([name, words]) => `  ${name.padEnd(8)} ${words}\n`);
  return `To read it, from its beginning; the names are those of a printer profile:\n${shown.join('')}`;
};

const run = async (bench: Bench): Promise<Outcome> => {
  const { clock, printer } = bench.rig;
  const { config, profile } = bench;
  const engine = createPrintEngine({ clock, printer, profile, config, imprint: null });
  const seen: { condition: PrinterCondition | null; job: JobSaid | null } = { condition: null, job: null };
  const close = engine.open(said => {
    if (said.kind === 'condition') seen.condition = said.condition;
  });
  let cutBy = '';
  const take = (said: JobSaid) => {
    seen.job = said;
    // What cut it short is said before it, and may be over a moment later.
    if (said.kind === 'stopped') cutBy = whyNot(seen.condition);
  };
  const over = () => seen.job !== null && seen.job.kind !== 'progress';
  try {
    await until(bench, () => seen.condition !== null, 8000);
    const before = whyNot(seen.condition);
    if (before !== '') {
      bench.say(`The printer can’t print now: ${before}.\n`);
      return fails;
    }
    bench.say('The test pattern is printed; a minute at most.\n');
    const startedUs = bench.nowUs();
    const { link, flow } = config.printer;
    engine.printPlan(situation => planPattern(situation, link !== 'serial' || flow !== 'none'), take);
    await until(bench, over, 120_000);
    if (seen.job?.kind !== 'done') {
      bench.say(`The pattern was not printed to its end${cutBy === '' ? '' : `: ${cutBy}`}.\n`);
      return fails;
    }
    bench.say(`Printed in ${((bench.nowUs() - startedUs) / 1e6).toFixed(1)} s.\n`);
    seen.job = null;
    engine.feed(Math.round((profile.tearMm + 2) * profile.dotsPerMm), take);
    await until(bench, over, 10_000);
    const paper = bench.paper();
    if (paper) bench.say(`The paper is in ${bench.keep('pattern.png', paper)}.\n`);
    bench.say(readingOf(bench));
    const seesRuler = await bench.sees(`Does the ruler show all ${profile.widthDots} dots, both edges marked?`);
    // Of one that says nothing itself, nobody knows whether it printed.
    if (seesRuler === null) return profile.commands.status === 'none' ? unjudged : works();
    if (seesRuler) return works();
    bench.say(
      'Then take the profile of a narrower class, or set widthDots in one of your own: see config/profiles/README.md.\n',
    );
    return fails;
  } finally {
    close();
    printer.discard();
  }
};

export const printerTrial: Trial = {
  part: 'printer',
  does: 'prints a test pattern, about 25 cm of it',
  cautions: [cautions.head, cautions.cells, cautions.adapter, cautions.paper, cautions.general],
  unfitted: () => '',
  run,
};
