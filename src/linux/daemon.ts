import { join } from 'node:path';
import { startCamera } from '../camera.ts';
import type { Profile } from '../config/profile.ts';
import type { Config } from '../config/schema.ts';
import { createLog } from '../console/log.ts';
import type { Outlet } from '../console/outlet.ts';
import { type Log, vocabulary } from '../console/vocabulary.ts';
import type { Clock } from '../parts/clock.ts';
import { encodeCode128 } from '../print/code128.ts';
import { createImprint } from '../print/imprint.ts';
import { createFaultKeeper } from '../record/fault-keeper.ts';
import { throughInlet } from '../record/inlet.ts';
import { createLineFile } from '../record/line-file.ts';
import { createRecorder, headerOf } from '../record/recorder.ts';
import { createRing } from '../record/ring.ts';
import { createBoardClock } from './inlet.ts';
import { createServiceNotice } from './notify.ts';
import type { BoardRig, BoardRigOptions } from './rig.ts';
import { createHardwareWatchdog } from './watchdog.ts';

export interface DaemonOptions {
  config: Config;
  profile: Profile;
  configHash: string;
  version: string;
  /** Where the configuration came from, for the log. */
  configName: string;
  /** File for a recording of every input; null: none. */
  recordFile: string | null;
  createRig(options: BoardRigOptions): BoardRig;
  /** Opens the way that log lines take; `onDropped` hears how many a slow console made us drop. */
  openConsole(onDropped: (lines: number) => void): Outlet;
  /** Aborted when the program is asked to end. */
  signal: AbortSignal;
}

/** Beyond what the machine itself takes to close: something hangs. */
const longestCloseMs = 8_000;

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
  const outlet = options.openConsole(lines => log('dropped', { lines }));
  const say = createLog({ clock, level: config.log.level, destination: outlet, startedMonoUs });
  const ring = createRing();
  const faults = createFaultKeeper({ ring, folder: join(config.album.folder, 'faults') });
  log = (event, fields) => {
    say(event, fields);
    if (vocabulary[event].level === 'error') faults.fault();
  };
  log('start', { version: options.version, config: options.configName, nodeMs: Math.round(process.uptime() * 1000) });

  const onTrouble = (why: string) => log('part-fault', { part: 'recording', why });
  const file = options.recordFile === null ? null : createLineFile({ path: options.recordFile, onTrouble });
  const { fromMonotonicUs, inlet } = board;
  const parts = options.createRig({ config, profile, clock, inlet, fromMonotonicUs, log });
  // Only now: a camera that can't be had must not leave a watchdog behind that nobody feeds.
  const watchdog = createHardwareWatchdog(config.watchdog.device, why => log('part-fault', { part: 'watchdog', why }));
  const recorder = createRecorder({
    header: headerOf({
      config,
      profile,
      configHash: options.configHash,
      startedAtMs: clock.wallMs(),
      startedMonoUs,
      shutterSays: parts.rig.shutter.listen !== undefined,
    }),
    write(line) {
      ring.write(line);
      file?.write(line);
    },
  });
  board.record(recorder.sink);
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
      recorder.end(clock.nowUs());
      outlet.close();
      void Promise.all([faults.close(), file?.close()]).then(finish);
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
        setTimeout(() => {
          parts.warmUp();
          // Checksums of frames: the first picture shouldn't wait until that is loaded.
          process.getBuiltinModule('node:zlib');
        }, 0);
      },
      onBroken(error) {
        faults.fault();
        end(() => reject(error));
      },
    });
    setTimeout(() => ended || notice.ready(), 0);

    const close = (why: string) =>
      inlet.take('service', { type: 'service.close', why }, () => camera.send({ type: 'service.close', why }));
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
