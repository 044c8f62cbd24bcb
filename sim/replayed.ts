import type { LogRecord } from '../src/console/read/own.ts';
import type { Entry } from '../src/record/entry.ts';
import type { RecordingHeader } from '../src/record/recorder.ts';
import type { ReplayClock, ReplayOptions } from '../src/record/replay.ts';
import { createVirtualClock } from './clock.ts';
import { createVirtualLamp } from './lamp.ts';
import { createVirtualMotor } from './motor.ts';
import { drawStrip } from './paper/draw.ts';
import { mechanismOf } from './printer/mechanism.ts';
import { createVirtualPrinter, type VirtualPrinter } from './printer/printer.ts';
import { chance } from './random.ts';
import { type LogLine, reportPage } from './report/page.ts';
import { reportStrip } from './report/strip.ts';
import { timingSvg } from './report/timing.ts';
import { createTraces } from './traces.ts';

/** Parts that only listen, on a clock of their own: what a replay does to them is written down as in a rehearsal. */
export interface Replayed {
  /** A life begins; the parts go on from where the last one left them. */
  begin(clock: ReplayClock, header: RecordingHeader): Pick<ReplayOptions, 'deeds' | 'onTransition' | 'onInput'>;
  said(record: LogRecord): void;
  /** Files of the report, by name. */
  report(recordingName: string): [string, string | Uint8Array][];
}

/** After the last byte the paper still moves. */
const afterUs = 30_000_000;

/** Inputs that show on the traces as faults; `gone` are the parts that are. */
const faultOf = (entry: Entry, gone: Set<string>): string | null => {
  if (!('kind' in entry)) return null;
  switch (entry.kind) {
    case 'lost':
      gone.add(entry.part);
      return `${entry.part} gone`;
    case 'found':
    case 'ready':
      return gone.delete(entry.part) ? `${entry.part} there` : null;
    case 'threw':
      return `${entry.part} refuses ${entry.call}`;
    case 'trouble':
    case 'not-kept':
    case 'not-marked':
      return `album: ${entry.why}`;
    default:
      return null;
  }
};

export const createReplayed = (): Replayed => {
  const world = createVirtualClock();
  const traces = createTraces(world.nowUs);
  const log: LogLine[] = [];
  const gone = new Set<string>();
  let life: { clock: ReplayClock; header: RecordingHeader; fromUs: number } | null = null;
  let firstMs = 0;
  let printer: VirtualPrinter | null = null;
  let lamp: ReturnType<typeof createVirtualLamp> | null = null;
  let motor: ReturnType<typeof createVirtualMotor> | null = null;

  const catchUp = () => {
    if (life) world.runUntil(life.fromUs + life.clock.nowUs());
  };
  /** Done at the moment of the replay. */
  const now =
    <A extends unknown[]>(act: (...what: A) => void) =>
    (...what: A) => {
      catchUp();
      act(...what);
    };
  const heard = (entry: Entry) => {
    if (entry.part === 'button' && entry.kind === 'level') traces.record('button', entry.down ? 1 : 0);
    else if (entry.part === 'webcam' && entry.kind === 'frame') traces.record('frame', entry.sequence);
    else if (entry.part === 'supply' && entry.kind === 'voltage') traces.record('supply', entry.volts);
    const fault = faultOf(entry, gone);
    if (fault !== null) traces.record('fault', fault);
  };

  return {
    begin(clock, header) {
      catchUp();
      const startedMs = Date.parse(header.startedAt);
      if (!life) firstMs = startedMs;
      const fromUs = Math.max(world.nowUs(), (startedMs - firstMs) * 1000);
      const { config, profile } = header;
      life = { clock, header, fromUs };
      const { baud, flow, link } = config.printer;
      printer ??= createVirtualPrinter({
        clock: world,
        traces,
        mechanism: mechanismOf(profile),
        line: { kind: link === 'usb' ? 'usb' : 'serial', baud, flow },
        chance: chance(1),
      });
      printer.powerOff();
      printer.port.open(() => {});
      lamp ??= createVirtualLamp(world, traces);
      motor ??= createVirtualMotor(world, traces, config.motor);
      return {
        deeds: {
          coil: now(on => traces.record('coil', on ? 1 : 0)),
          lamp: now(pattern => lamp?.show(pattern)),
          motor: now(direction => motor?.drive(direction)),
          printer: now(bytes => printer?.port.write(bytes)),
          discard: now(() => printer?.port.discard()),
        },
        onInput: now(heard),
        onTransition: now(states =>
          traces.record(
            'state',
            Object.entries(states)
              .map(([region, state]) => `${region}.${state}`)
              .join(' '),
          ),
        ),
      };
    },
    said(record) {
      catchUp();
      log.push({ ...record, atUs: world.nowUs() });
    },
    report(recordingName) {
      catchUp();
      world.runUntil(world.nowUs() + afterUs);
      const title = life ? `Replayed from ${life.header.startedAt}` : 'Nothing replayed';
      const files: [string, string | Uint8Array][] = [['timing.svg', timingSvg(traces, { title })]];
      const drawn = printer ? drawStrip(printer.paper, 1) : null;
      if (drawn) files.push(['strip.png', drawn.png()]);
      const facts: Record<string, string> = life
        ? { look: life.header.config.picture.look, printer: life.header.profile.title }
        : {};
      const strip = printer && drawn ? reportStrip(printer.paper, drawn, log, 'strip.png') : null;
      files.push(['index.html', reportPage({ title, facts, traces, log, strip, recordingName })]);
      return files;
    },
  };
};
