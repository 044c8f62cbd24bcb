import type { Profile } from '../src/config/profile.ts';
import type { Config } from '../src/config/schema.ts';
import type { Rig } from '../src/parts/rig.ts';
import { createDeveloper } from '../src/picture/develop.ts';
import { resolveLook } from '../src/picture/looks.ts';
import { createVirtualClock } from './clock.ts';
import { drawStrip } from './paper/draw.ts';
import { createVirtualRig, type RigControl } from './rig.ts';
import { createScene } from './scene.ts';
import { createTraces, type TraceName, type Traces } from './traces.ts';
import type { Scene } from './view.ts';

export interface DeskBench {
  rig: Rig;
  traces: Traces;
  control: RigControl;
  nowUs(): number;
  /** Lets virtual time go on. */
  run(ms: number): void;
  press(times: number): void;
  /** The strip as it hangs out of the printer, as PNG. */
  paper(): Uint8Array;
  /** What somebody at the bench would have seen and heard since the last call. */
  noticed(): string[];
  /** What still moves, heats, shines or carries current. */
  live(): string[];
  close(): void;
}

const noAlbum = {
  open: () => () => {},
  keep: () => {},
  mark: () => {},
  keepDots: () => {},
  recall: () => () => {},
  paperUsed: () => {},
};

/** The lamp stands before the lens: lit, it adds this much light (1 is white paper in full light) within a disc. */
const lampLight = 0.6;
const discPart = 0.2;

/** A scene with the camera's own lamp in it, as somebody holds the webcam to it. */
const withLamp = (scene: Scene, litAt: (atUs: number) => boolean): Scene => ({
  ...scene,
  look(atUs, widthPx, heightPx, into) {
    scene.look(atUs, widthPx, heightPx, into);
    if (!litAt(atUs)) return;
    const radius = discPart * heightPx;
    for (let y = 0; y < heightPx; y++)
      for (let x = 0; x < widthPx; x++)
        if (Math.hypot(x - widthPx / 2, y - heightPx / 2) < radius) into[y * widthPx + x] += lampLight;
  },
});

const parts: readonly [TraceName, string][] = [
  ['coil', 'coil'],
  ['lamp', 'lamp'],
  ['motor-in', 'motor'],
  ['motor-out', 'motor'],
  ['head', 'head'],
];

/** Virtual parts to try out at a desk, with a hand that presses when it is asked to. */
export const createDeskBench = (config: Config, profile: Profile, seed = 1): DeskBench => {
  const developer = createDeveloper({
    picture: config.picture,
    look: resolveLook(config.picture),
    profile,
    cameraName: config.camera.name,
  });
  const clock = createVirtualClock();
  const traces = createTraces(clock.nowUs);
  const litAt = (atUs: number) => traces.of('lamp').findLast(sample => sample.atUs <= atUs)?.value === 1;
  const virtual = createVirtualRig({
    config,
    profile,
    seed,
    clock,
    traces,
    // Nobody moves before this lens: the lamp is all that changes.
    scene: withLamp(still(createScene('party', seed)), litAt),
    develop: (frame, caption) => developer.develop(frame, caption),
    createAlbum: () => noAlbum,
  });
  let strokesTold = 0;
  let toldUs = 0;
  const since = (name: TraceName, value: number) =>
    traces.of(name).filter(sample => sample.atUs >= toldUs && sample.value === value).length;
  return {
    rig: virtual.rig,
    traces,
    control: virtual.control,
    nowUs: clock.nowUs,
    run: ms => virtual.clock.runUntil(virtual.clock.nowUs() + ms * 1000),
    press(times) {
      for (let i = 0; i < times; i++)
        virtual.clock.after((300 + 700 * i) * 1000, () => virtual.control.press(140, true));
    },
    paper: () => drawStrip(virtual.printer.paper, seed).png(),
    noticed() {
      const strokes = virtual.control.shutter.strokes - strokesTold;
      const counts: [number, string][] = [
        [since('lamp', 1), 'lamp lit'],
        [since('motor-in', 1), 'lens in'],
        [since('motor-out', 1), 'lens out'],
        [since('coil', 1), 'coil on'],
        [strokes, 'click'],
      ];
      strokesTold += strokes;
      toldUs = clock.nowUs();
      const noticed = counts.filter(([count]) => count > 0).map(([count, what]) => `${what} ${count} ×`);
      return since('coil', 1) > 0 && strokes === 0 ? [...noticed, 'no click'] : noticed;
    },
    live() {
      const on = parts.filter(([name]) => Number(traces.of(name).at(-1)?.value ?? 0) > 0);
      return [...new Set(on.map(([, part]) => part))];
    },
    close: () => virtual.powerCut(),
  };
};

const still = (scene: Scene): Scene => ({
  ...scene,
  look: (_, widthPx, heightPx, into) => scene.look(0, widthPx, heightPx, into),
  brightness: () => scene.brightness(0),
});
