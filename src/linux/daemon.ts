import { closeSync, openSync, writeSync } from 'node:fs';
import { startCamera } from '../camera.ts';
import type { Profile } from '../config/profile.ts';
import type { Config } from '../config/schema.ts';
import { createLog } from '../console/log.ts';
import type { Log } from '../console/vocabulary.ts';
import type { Clock } from '../parts/clock.ts';
import { Fault } from '../parts/fault.ts';
import { encodeCode128 } from '../print/code128.ts';
import { createImprint } from '../print/imprint.ts';
import { throughInlet } from '../record/inlet.ts';
import { createRecorder, headerOf, type Recorder } from '../record/recorder.ts';
import { createBoardClock } from './inlet.ts';
import { createServiceNotice } from './notify.ts';
import type { BoardRig, BoardRigOptions } from './rig.ts';
import { createHardwareWatchdog } from './watchdog.ts';

export interface DaemonOptions {
  config: Config;
  profile: Profile;
  version: string;
  /** Where the configuration came from, for the log. */
  configName: string;
  /** File for a recording of every input; null: none. */
  recordFile: string | null;
  createRig(options: BoardRigOptions): BoardRig;
  /** Takes whole log lines, and must not block. */
  write(line: string): void;
  /** Aborted when the program is asked to end. */
  signal: AbortSignal;
}

/** Beyond what the machine itself takes to close: something hangs. */
const longestCloseMs = 8_000;

const openRecording = (file: string): number => {
  try {
    return openSync(file, 'w', 0o640);
  } catch (error) {
    throw new Fault(
      'unwritable',
      `--record ${file}: ${(error as Error).message}`,
      'give a file in a folder that exists',
      {
        cause: error,
      },
    );
  }
};

/**
 * The camera as a service: parts, inlet, machine, log, and what the service manager wants to hear. Resolves with the exit
 * code once everything is let go.
 */
export const runDaemon = (options: DaemonOptions): Promise<number> => {
  const { config, profile, signal } = options;
  let log: Log = () => {};
  const board = createBoardClock({
    onStall: lateUs => log('stalled', { lateMs: Math.round(lateUs / 1000) }),
    onWallStep: stepMs => log('clock-step', { stepMs }),
  });
  const clock: Clock = board.clock;
  const startedMonoUs = board.startedMonotonicUs;
  log = createLog({ clock, level: config.log.level, destination: { write: options.write }, startedMonoUs });
  log('start', { version: options.version, config: options.configName });

  const watchdog = createHardwareWatchdog(config.watchdog.device);
  const file = options.recordFile === null ? null : openRecording(options.recordFile);
  const { fromMonotonicUs, inlet } = board;
  const parts = options.createRig({ config, profile, clock, inlet, fromMonotonicUs, log });
  let recorder: Recorder | null = null;
  if (file !== null) {
    const shutterSays = parts.rig.shutter.listen !== undefined;
    const header = headerOf({ config, profile, startedAtMs: clock.wallMs(), startedMonoUs, shutterSays });
    recorder = createRecorder({ header, write: line => void writeSync(file, line) });
    board.record(recorder.sink);
  }
  // However the program ends: nothing stays driven.
  process.once('exit', parts.close);
  const notice = createServiceNotice(process.env, process.pid, why => log('part-fault', { part: 'service', why }));

  return new Promise((resolve, reject) => {
    let ended = false;
    let warm = false;
    const end = (finish: () => void) => {
      if (ended) return;
      ended = true;
      board.stop();
      parts.close();
      process.off('exit', parts.close);
      notice.close();
      watchdog.close();
      recorder?.end(clock.nowUs());
      if (file !== null) closeSync(file);
      finish();
    };
    const camera = startCamera({
      rig: throughInlet(parts.rig, inlet),
      config,
      profile,
      log,
      imprint: config.printer.imprint
        ? createImprint({ widthDots: profile.widthDots, mark: config.camera.mark, encode: encodeCode128 })
        : null,
      onTransition({ exposure, output, service }) {
        notice.status(`${exposure}, ${output}${service === 'idle' ? '' : `, ${service}`}`);
        if (warm || exposure !== 'ready') return;
        warm = true;
        setTimeout(parts.warmUp, 0);
      },
      onBroken: error => end(() => reject(error)),
    });
    setTimeout(() => ended || notice.ready(), 0);

    const close = (why: string) =>
      inlet.take('service', { kind: 'close', why }, () => camera.send({ type: 'service.close', why }));
    const stop = () => {
      notice.stopping();
      close('asked to end');
      setTimeout(() => {
        camera.stop();
        end(() => resolve(0));
      }, longestCloseMs).unref();
    };
    // What closes the machine may still be under way inside it.
    camera.closed(() => setImmediate(() => end(() => resolve(0))));
    if (signal.aborted) stop();
    else signal.addEventListener('abort', stop, { once: true });
  });
};
