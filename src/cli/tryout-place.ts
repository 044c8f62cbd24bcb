import { readFileSync } from 'node:fs';
import { userInfo } from 'node:os';
import { onlyParts } from '../config/only-parts.ts';
import type { Profile } from '../config/profile.ts';
import type { Config } from '../config/schema.ts';
import type { Bench } from '../workshop/tryout/bench.ts';
import { stopped } from './asking.ts';
import type { Io } from './command.ts';

/** Board or desk: what of a bench is different there. */
export interface Place
  extends Pick<Bench, 'config' | 'rig' | 'pause' | 'nowUs' | 'hand' | 'paper' | 'lacks' | 'webcamOffers' | 'volts'> {
  /** What the desk's parts did since the last question, for somebody who can't see them; '' on the board. */
  noticed(): string;
  /** Lets everything go. */
  close(): void;
}

/** Virtual parts. They always have a battery that can be measured. */
export const atDesk = async (given: Config, profile: Profile, io: Io): Promise<Place> => {
  const { createDeskBench } = await import('../../sim/desk-bench.ts');
  const sensor = given.supply.sensor || 'the desk’s battery';
  const config = { ...given, supply: { ...given.supply, sensor } };
  const desk = createDeskBench(config, profile);
  const { format, widthPx, heightPx, framesPerSecond } = config.webcam;
  return {
    config,
    rig: desk.rig,
    nowUs: desk.nowUs,
    async pause(ms) {
      // A turn of the event loop, so that ^C is heard between two steps of a clock that takes no time.
      await new Promise(resolve => void setImmediate(resolve));
      if (io.signal.aborted) throw stopped();
      desk.run(ms);
    },
    hand: (_act, times) => desk.press(times),
    paper: desk.paper,
    lacks: () => '',
    webcamOffers: async () => ({
      card: 'the desk’s webcam',
      modes: [{ format: format === 'auto' ? 'YUYV' : format, widthPx, heightPx, framesPerSecond }],
    }),
    volts: () => desk.control.supply.volts(),
    noticed: () => desk.noticed().join(', '),
    close() {
      // What lies in the printer's buffer is still printed.
      desk.run(500);
      const live = desk.live();
      desk.close();
      if (live.length > 0) throw new Error(`still on after a tryout: ${live.join(', ')}`);
    },
  };
};

export const onBoard = async (given: Config, profile: Profile, parts: readonly string[], io: Io): Promise<Place> => {
  const [{ createBoardClock, processHost }, { createBoardRig }, { throughInlet }] = await Promise.all([
    import('../linux/inlet.ts'),
    import('../linux/rig.ts'),
    import('../record/inlet.ts'),
  ]);
  const config = onlyParts(given, parts);
  const { clock, inlet, fromMonotonicUs, startedMonotonicUs, stop } = createBoardClock();
  const lacking = new Map<string, string>();
  let making = true;
  const board = createBoardRig({
    config,
    profile,
    clock,
    inlet,
    fromMonotonicUs,
    log(event, fields) {
      const { part, why } = fields as { part?: string; why?: string };
      if (making && event === 'part-fault' && part && why) lacking.set(part, why);
      else io.err(`${event}: ${Object.values(fields).join(' ')}\n`);
    },
  });
  making = false;
  return {
    config,
    rig: throughInlet(board.rig, inlet),
    nowUs: () => processHost.monotonicUs() - startedMonotonicUs,
    pause: ms =>
      new Promise((resolve, reject) => {
        const { signal } = io;
        const stopNow = () => {
          clearTimeout(timer);
          reject(stopped());
        };
        const timer = setTimeout(() => {
          signal.removeEventListener('abort', stopNow);
          resolve();
        }, ms);
        if (signal.aborted) stopNow();
        else signal.addEventListener('abort', stopNow, { once: true });
      }),
    hand: () => {},
    paper: () => null,
    lacks: part => lacking.get(part) ?? '',
    async webcamOffers() {
      const { gatherBoardFacts } = await import('../linux/board-facts.ts');
      return gatherBoardFacts(config, userInfo().username).webcam ?? null;
    },
    volts() {
      try {
        // Microvolts, as hwmon and power_supply give them.
        const volts = Number.parseInt(readFileSync(config.supply.sensor, 'utf8'), 10) / 1e6;
        return Number.isFinite(volts) ? volts : null;
      } catch {
        return null;
      }
    },
    noticed: () => '',
    close() {
      stop();
      board.close();
    },
  };
};
