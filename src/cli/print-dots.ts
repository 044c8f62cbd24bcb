import { onlyParts } from '../config/only-parts.ts';
import type { Profile } from '../config/profile.ts';
import type { Config } from '../config/schema.ts';
import type { Dots } from '../parts/darkroom.ts';
import type { EngineSaid, PrinterCondition } from '../parts/engine.ts';
import { Fault } from '../parts/fault.ts';
import { whyNot } from '../print/why-not.ts';
import { cautions } from '../workshop/tryout/cautions.ts';
import type { Io } from './command.ts';

const silentMs = 10_000;

/**
 * Prints dots on the printer of a configuration, with paper fed to the tear edge. Throws a `Fault` when it can't, or when
 * the person breaks off.
 */
export const printDots = async (all: readonly Dots[], config: Config, profile: Profile, io: Io): Promise<void> => {
  const [{ createBoardClock }, { createBoardRig }, { throughInlet }, { createPrintEngine }] = await Promise.all([
    import('../linux/inlet.ts'),
    import('../linux/rig.ts'),
    import('../record/inlet.ts'),
    import('../print/engine.ts'),
  ]);
  io.err(`! ${cautions.head}\n`);
  const board = createBoardClock();
  const only = onlyParts(config, ['printer']);
  const { rig, close } = createBoardRig({
    config: only,
    profile,
    clock: board.clock,
    inlet: board.inlet,
    fromMonotonicUs: board.fromMonotonicUs,
    log: (event, fields) => io.err(`${event}: ${Object.values(fields).join(' ')}\n`),
  });
  const { clock, printer } = throughInlet(rig, board.inlet);
  const engine = createPrintEngine({ clock, printer, profile, config: only, imprint: null });
  let condition: PrinterCondition | null = null;
  const undo = engine.open((said: EngineSaid) => {
    if (said.kind === 'condition') condition = said.condition;
  });
  const failed = (why: string) =>
    new Fault(
      'part-failed',
      `the printer at ${config.printer.device} didn’t print: ${why}`,
      'see slipshutter tryout printer',
    );
  const job = (start: (heard: Parameters<typeof engine.printBody>[1]) => () => void) =>
    new Promise<void>((resolve, reject) => {
      const stop = start(said => {
        if (said.kind === 'done') resolve();
        if (said.kind === 'stopped') reject(failed((condition && whyNot(condition)) || 'it was cut short'));
      });
      const silent = setTimeout(() => {
        if (condition) return;
        stop();
        reject(failed(whyNot(null)));
      }, silentMs);
      silent.unref();
      const aborted = () => {
        stop();
        reject(failed('interrupted'));
      };
      if (io.signal.aborted) aborted();
      io.signal.addEventListener('abort', aborted, { once: true });
    });
  try {
    for (const dots of all) {
      await job(heard => engine.printBody(dots, heard));
      await job(heard => engine.feed(Math.round((profile.tearMm + 2) * profile.dotsPerMm), heard));
    }
  } finally {
    undo();
    board.stop();
    close();
  }
};
