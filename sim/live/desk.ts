import { startCamera } from '../../src/camera.ts';
import type { Profile } from '../../src/config/profile.ts';
import type { Config } from '../../src/config/schema.ts';
import { createLog } from '../../src/console/log.ts';
import { patterns } from '../../src/machine/signals.ts';
import type { States } from '../../src/machine/states.ts';
import type { Imprint } from '../../src/print/imprint.ts';
import { createCameraRig } from '../camera-rig.ts';
import { createVirtualClock } from '../clock.ts';
import { type FaultEntry, type FaultName, faults } from '../faults.ts';
import type { Paper } from '../paper/paper.ts';
import type { Photo } from '../photos.ts';
import type { LogLine } from '../report/page.ts';
import type { SceneName } from '../scene.ts';
import { createTraces, type TraceName } from '../traces.ts';

export interface LiveDeskOptions {
  config: Config;
  profile: Profile;
  imprint: Imprint | null;
  seed: number;
  scene: SceneName;
  /** Shown to the lens instead of the scene, a new one with each picture. */
  photos: readonly Photo[];
}

/** Mishaps that may be tried at the desk, in the order of their buttons, with the key for each. */
export const mishaps = [
  { name: 'paper-out', key: 'p' },
  { name: 'lid-open', key: 'l' },
  { name: 'head-hot', key: 'h' },
  { name: 'printer-unplugged', key: 'u' },
  { name: 'printer-off', key: 'o' },
  { name: 'webcam-unplugged', key: 'w' },
  { name: 'battery-weak', key: 'b' },
  { name: 'coil-jammed', key: 'j' },
  { name: 'disk-full', key: 'd' },
  { name: 'power-cut', key: 'x' },
] as const satisfies readonly { name: FaultName; key: string }[];
export type Mishap = (typeof mishaps)[number]['name'];

/** How everything stands at a moment. */
export interface Standing {
  atUs: number;
  alive: boolean;
  lamp: boolean;
  pattern: string;
  means: string;
  button: boolean;
  blades: boolean;
  coil: boolean;
  motor: -1 | 0 | 1;
  states: States | null;
  rollMm: number;
  headC: number;
  /** Line of the paper under the head. */
  line: number;
  wrong: readonly Mishap[];
  presses: number;
}

/** Trace samples, log lines and paper since the reader last looked. */
interface News {
  samples: { name: TraceName; atUs: number; value: number | string }[];
  log: LogLine[];
  /** First and next line of paper that has come out since. */
  paper: { from: number; to: number };
  tears: number[];
}

export interface LiveDesk {
  paper: Paper;
  /** What holding the button for so long is set to do. */
  hold: { does: Config['gestures']['hold']; ms: number };
  /** Lets virtual time go on. */
  advance(byUs: number): void;
  button(down: boolean): void;
  /** Presses and lets go by itself. */
  tap(holdMs: number): void;
  toggle(mishap: Mishap): void;
  tear(): void;
  newRoll(): void;
  standing(): Standing;
  /** What has happened since this reader's last call; the first call begins now. */
  reader(): () => News;
  /** What the lens sees now: grey 0…255, row by row. */
  look(widthPx: number, heightPx: number): Uint8Array;
}

const shownTraces: readonly TraceName[] = [
  'button',
  'coil',
  'blades',
  'head',
  'paper',
  'motor-in',
  'motor-out',
  'lamp',
];
const rollMm = 20_000;
/** A finger's quickest press. A click of a mouse or a key may be shorter, or begin and end between two beats of the desk. */
const leastPressUs = 60_000;
/** Log lines kept for readers that look late. */
const mostLog = 2000;

/** A camera on a desk: the real machine, pipeline and print stream on virtual parts, moved by whoever plays with it. */
export const createLiveDesk = (options: LiveDeskOptions): LiveDesk => {
  const { config, profile, photos, seed } = options;
  const clock = createVirtualClock();
  const traces = createTraces(clock.nowUs);
  const { rig, view, slides } = createCameraRig({
    config,
    profile,
    seed,
    clock,
    traces,
    scene: options.scene,
    photos,
    rollMm,
  });
  const { control, printer } = rig;
  const wrong = new Set<Mishap>();
  let states: States | null = null;
  let log: LogLine[] = [];
  let logged = 0;

  const startLife = () => {
    const life = rig.rig;
    startCamera({
      rig: life,
      config,
      profile,
      imprint: options.imprint,
      log: createLog({
        clock: life.clock,
        level: config.log.level,
        destination: {
          write(line) {
            log.push({ ...(JSON.parse(line) as LogLine), atUs: clock.nowUs() });
            logged++;
            if (log.length > 2 * mostLog) log = log.slice(-mostLog);
            if (slides && line.includes('"event":"frame"')) slides.advance(clock.nowUs());
          },
        },
      }),
      onTransition: next => {
        states = next;
      },
    });
  };
  startLife();

  const last = (name: TraceName) => traces.of(name).at(-1)?.value;
  const isOn = (name: TraceName) => last(name) === 1;

  let downUs = 0;
  let stopLettingGo = () => {};
  const button = (down: boolean) => {
    stopLettingGo();
    const restUs = downUs + leastPressUs - clock.nowUs();
    if (down) downUs = clock.nowUs();
    if (down || restUs <= 0) control.contact(down);
    else stopLettingGo = clock.after(restUs, () => control.contact(false));
  };

  return {
    paper: printer.paper,
    hold: { does: config.gestures.hold, ms: config.button.holdMs },
    advance: byUs => clock.runUntil(clock.nowUs() + byUs),
    button,
    tap: holdMs => control.press(holdMs),
    toggle(mishap) {
      const entry: FaultEntry = faults[mishap];
      if (wrong.delete(mishap)) {
        entry.heal?.(rig);
        traces.record('fault', `${mishap} over`);
        if (mishap === 'power-cut') startLife();
        return;
      }
      wrong.add(mishap);
      traces.record('fault', mishap);
      if (mishap === 'power-cut') states = null;
      entry.inflict(rig, 0);
    },
    tear: control.printer.tear,
    newRoll() {
      wrong.delete('paper-out');
      control.printer.loadRoll(rollMm);
    },
    standing() {
      const pattern = rig.life.alive ? String(last('lamp-pattern') ?? 'closed') : 'closed';
      return {
        atUs: clock.nowUs(),
        alive: rig.life.alive,
        lamp: isOn('lamp'),
        pattern,
        means: rig.life.alive ? (patterns[pattern as keyof typeof patterns]?.means ?? '') : 'no power',
        button: isOn('button'),
        blades: isOn('blades'),
        coil: isOn('coil'),
        motor: isOn('motor-in') ? 1 : isOn('motor-out') ? -1 : 0,
        states,
        rollMm: Math.round(printer.rollDots() / profile.dotsPerMm),
        headC: Math.round(printer.headC() * 10) / 10,
        line: printer.paper.at,
        wrong: [...wrong],
        presses: control.button.presses,
      };
    },
    reader() {
      const seen = new Map(shownTraces.map(name => [name, traces.of(name).length]));
      let line = printer.paper.at;
      let marks = printer.paper.marks.length;
      let read = logged;
      return () => {
        const samples = shownTraces.flatMap(name => {
          const all = traces.of(name);
          const fresh = all.slice(seen.get(name));
          seen.set(name, all.length);
          return fresh.map(({ atUs, value }) => ({ name, atUs, value }));
        });
        const fresh = log.slice(Math.max(0, log.length - (logged - read)));
        read = logged;
        const from = Math.min(line, printer.paper.at);
        line = printer.paper.at;
        const tears = printer.paper.marks.slice(marks).map(mark => mark.line);
        marks = printer.paper.marks.length;
        return { samples, log: fresh, paper: { from, to: line }, tears };
      };
    },
    look(widthPx, heightPx) {
      const light = new Float32Array(widthPx * heightPx);
      view.look(clock.nowUs(), widthPx, heightPx, light);
      // As an eye that has got used to the light: middle grey for the mean, gamma for the screen.
      const gain = view.metered ? 0.2 / Math.max(0.005, view.brightness(clock.nowUs())) : 1;
      return Uint8Array.from(light, value => 255 * Math.min(1, value * gain) ** (1 / 2.2));
    },
  };
};
