import { describe, expect, it } from 'vitest';
import { createVirtualRig } from '../../sim/rig.ts';
import { createStampScene, developStamp } from '../../sim/stamp.ts';
import { createAlbum } from '../../src/album/album.ts';
import { startCamera } from '../../src/camera.ts';
import { defaultProfile, type Profile } from '../../src/config/profile.ts';
import { type Config, defaultConfig } from '../../src/config/schema.ts';
import type { ServiceInput } from '../../src/machine/events.ts';
import type { RunningMachine } from '../../src/machine/start.ts';
import type { States } from '../../src/machine/states.ts';
import { atomicStates, createStillMachine, type Region, regions } from './model.ts';
import { inWords, type Path, pathsTo, type Step } from './paths.ts';

const visited = new Set<string>();
const plainProfile = { ...defaultProfile(), widthDots: 288 };
plainProfile.commands = { ...plainProfile.commands, reverse: true };

/** The whole camera, print engine and album included, on the virtual parts; small frames and short pictures. */
const onRig = (change: (config: Config) => void = () => {}, head: Partial<Profile['head']> = {}) => {
  const profile = { ...plainProfile, head: { ...plainProfile.head, ...head } };
  const config = defaultConfig();
  config.webcam.widthPx = 64;
  config.webcam.heightPx = 64;
  change(config);
  const virtual = createVirtualRig({
    config,
    profile,
    seed: 11,
    scene: createStampScene(),
    develop: developStamp(profile.widthDots),
    developUs: () => 150_000,
    createAlbum: (disk, clock) => createAlbum({ disk, clock, config }),
    sparse: true,
  });
  const { clock, control } = virtual;
  const events: string[] = [];
  let machine: RunningMachine;
  const boot = () => {
    machine = startCamera({
      rig: virtual.rig,
      config,
      profile,
      imprint: null,
      log: event => void events.push(event),
      onTransition: states => {
        for (const [region, state] of Object.entries(states)) visited.add(`${region} ${state}`);
      },
      onBroken: error => {
        throw error;
      },
    });
    for (const [region, state] of Object.entries(machine.states())) visited.add(`${region} ${state}`);
  };
  boot();
  return {
    virtual,
    control,
    events,
    send: (input: ServiceInput) => machine.send(input),
    states: () => machine.states(),
    run: (ms: number) => clock.runUntil(clock.nowUs() + ms * 1000),
    /** The clock goes on until the regions are there, for a minute and a half at most. */
    until(wanted: Partial<States>): boolean {
      const there = () =>
        Object.entries(wanted).every(([region, state]) => machine.states()[region as keyof States] === state);
      for (const lastUs = clock.nowUs() + 90_000_000; !there() && clock.step(lastUs); );
      return there();
    },
    press(heldMs = 100) {
      control.press(heldMs, false);
    },
    cutAndBoot() {
      virtual.powerCut();
      virtual.boot();
      boot();
    },
  };
};
type OnRig = ReturnType<typeof onRig>;

/**
 * What the world must do for a step. Answers and timers come by themselves; for those that tell of a failure, the fault
 * is laid on before.
 */
const bring = (rig: OnRig, { input, states }: Step) => {
  const { control } = rig;
  switch (input.type) {
    case 'contact.made':
      // Whoever means to take a picture waits for the lamp.
      if (states.exposure === 'ready') rig.until({ exposure: 'ready' });
      return control.contact(true);
    case 'contact.broken':
      return control.contact(false);
    case 'webcam.lost':
      // A webcam is missed only once it was there.
      rig.until({ exposure: 'ready' });
      return control.webcam.unplug();
    case 'printer.condition':
      return control.printer.paperOut((input as { condition: { paperOut: boolean } }).condition.paperOut);
    case 'service.jog':
    case 'service.load':
    case 'service.loaded':
    case 'service.close':
      return rig.send(input as ServiceInput);
  }
};

/** States that a healthy new camera doesn't come to; each is reached by a fault below. */
const byFault = new Set(['waiting.troubled', 'waiting.healing', 'sealing.unsure', 'loading.intake', 'locked']);
/** Steps that its parts take when they are left alone. */
const happensOnRig = ({ target, steps }: Path) =>
  !byFault.has(target) &&
  steps.every(({ input }) => {
    if ('pending' in input) return input.pending.length === 0;
    return !/failed|stopped|album.trouble|^recall/.test(input.type);
  });

const machine = createStillMachine(undefined, true);

describe.each(['button', 'exposure', 'output', 'service'] as const)('paths of %s on the virtual rig', region => {
  // The shortest way to each state that doesn't need something to fail.
  const shortest = new Map<string, Path>();
  for (const path of pathsTo(machine, region).filter(happensOnRig))
    if (path.steps.length < (shortest.get(path.target)?.steps.length ?? Number.POSITIVE_INFINITY))
      shortest.set(path.target, path);

  it.each([...shortest.values()].map(path => [path.target, path] as const))('%s', (target, path) => {
    const rig = onRig();
    // The printer is found and the paper seen before anything is asked, as a person would wait for the lamp.
    if (path.steps.some(({ input }) => input.type === 'printer.condition')) rig.run(2000);
    for (const step of path.steps) {
      bring(rig, step);
      const wanted = { [region]: step.states[region] };
      expect(
        rig.until(wanted),
        `${JSON.stringify(wanted)} on: ${inWords(path)}, but ${JSON.stringify(rig.states())}`,
      ).toBe(true);
    }
    expect(target === 'closed' || rig.states()[region] === target).toBe(true);
  });
});

describe('what it takes a fault to reach, on the virtual rig', () => {
  const ready = (change?: (config: Config) => void) => {
    const rig = onRig(change);
    expect(rig.until({ exposure: 'ready' })).toBe(true);
    rig.run(1500);
    return rig;
  };
  const printed = (rig: OnRig) => rig.events.filter(event => event === 'printed').length;

  it('no paper: it waits, heals, prints', () => {
    const rig = ready();
    rig.control.printer.paperOut(true);
    rig.run(3000);
    rig.press();
    expect(rig.until({ output: 'waiting.troubled' })).toBe(true);
    rig.control.printer.loadRoll(15_000);
    expect(rig.until({ output: 'waiting.healing' })).toBe(true);
    rig.run(8000);
    expect(printed(rig)).toBe(1);
  });

  it('power is cut with pictures waiting: they are recalled and printed', () => {
    const rig = ready();
    rig.control.printer.paperOut(true);
    rig.run(3000);
    rig.press();
    rig.run(3000);
    rig.cutAndBoot();
    expect(rig.until({ output: 'recalling' })).toBe(true);
    rig.control.printer.loadRoll(15_000);
    rig.run(15_000);
    expect(printed(rig)).toBe(1);
  });

  it('a darkroom that fails: the picture bides and is developed later', () => {
    const rig = ready();
    rig.control.darkroom.control.fail('out of memory');
    rig.press();
    expect(rig.until({ output: 'biding' })).toBe(true);
    rig.control.darkroom.control.fail(null);
    rig.run(15_000);
    expect(printed(rig)).toBe(1);
  });

  it('a slow disk: the body is out before the album has answered', () => {
    const rig = ready();
    rig.control.disk.slow(400);
    rig.press();
    expect(rig.until({ output: 'sealing.unsure' })).toBe(true);
    rig.control.disk.slow(1);
    rig.run(20_000);
    expect(printed(rig)).toBe(1);
  });

  it('a disk that can’t be written: the mark waits, what can’t be kept is said', () => {
    const rig = ready();
    rig.press();
    expect(rig.until({ output: 'printing' })).toBe(true);
    rig.virtual.disk.readOnly(true);
    expect(rig.until({ output: 'sealing.unwritten' })).toBe(true);
    rig.press();
    expect(rig.until({ notice: 'unkept' })).toBe(true);
    rig.virtual.disk.readOnly(false);
    expect(rig.until({ output: 'presenting' })).toBe(true);
    rig.virtual.disk.readOnly(true);
    expect(rig.until({ output: 'filing.unwritten' })).toBe(true);
    rig.virtual.disk.readOnly(false);
    rig.run(15_000);
    expect(printed(rig)).toBe(2);
  });

  it('a webcam that freezes: the press is missed and said', () => {
    const rig = ready();
    rig.control.webcam.freeze(true);
    rig.press();
    expect(rig.until({ notice: 'missed' })).toBe(true);
    rig.control.webcam.freeze(false);
    expect(rig.until({ exposure: 'ready', notice: 'quiet' })).toBe(true);
  });

  it('a head that is warm before it prints much rests', () => {
    const rig = onRig(undefined, { averageWatts: 0.2 });
    expect(rig.until({ exposure: 'ready' })).toBe(true);
    rig.run(1500);
    for (let i = 0; i < 20 && rig.states().output !== 'resting'; i++) {
      rig.press();
      rig.run(700);
      rig.until({ exposure: 'ready' });
    }
    expect(rig.until({ output: 'resting' })).toBe(true);
    rig.run(200_000);
    expect(rig.states().output).toBe('idle');
  });

  it('paper is moved, and the program ends, once the picture in hand is out', () => {
    const rig = ready();
    rig.press();
    expect(rig.until({ output: 'printing' })).toBe(true);
    rig.send({ type: 'service.jog', mm: 5 });
    expect(rig.states().service).toBe('jogging.pending');
    expect(rig.until({ service: 'jogging.forward' })).toBe(true);
    expect(rig.until({ service: 'idle' })).toBe(true);
    rig.press();
    expect(rig.until({ output: 'printing' })).toBe(true);
    rig.send({ type: 'service.close', why: 'test' });
    expect(rig.states().service).toBe('closing');
    expect(rig.until({ service: 'closed' })).toBe(true);
    expect(printed(rig)).toBe(2);
    expect(rig.virtual.clock.nowUs()).toBeLessThan(20_000_000);
  });

  it.each([100, 500])('a press of %i ms while the program stands still is a press, not a hold', heldMs => {
    const rig = ready(config => {
      config.gestures.hold = 'feed';
    });
    rig.control.stall(2500);
    rig.run(200);
    rig.press(heldMs);
    rig.run(20_000);
    expect(rig.events.filter(event => event === 'press')).toHaveLength(1);
    expect(rig.events.filter(event => event === 'gesture')).toEqual([]);
    expect(printed(rig)).toBe(1);
  });

  it('a finger that holds through a stall still holds', () => {
    const rig = ready(config => {
      config.gestures.hold = 'feed';
    });
    rig.control.stall(2500);
    rig.run(200);
    rig.press(4000);
    rig.run(20_000);
    expect(rig.events.filter(event => event === 'gesture')).toHaveLength(1);
  });

  it('a press too soon is refused and said', () => {
    const rig = ready();
    rig.press(20);
    rig.run(100);
    rig.press(20);
    expect(rig.until({ notice: 'refused' })).toBe(true);
    expect(rig.until({ notice: 'quiet' })).toBe(true);
  });

  it('paper laid in is drawn in, moved on and back, and waits for the picture in hand', () => {
    const rig = ready(config => {
      config.gestures.hold = 'none';
    });
    rig.press();
    expect(rig.until({ output: 'printing' })).toBe(true);
    rig.send({ type: 'service.load' });
    expect(rig.until({ service: 'loading.pending' })).toBe(true);
    expect(rig.until({ service: 'loading.open' })).toBe(true);
    rig.control.printer.lid(true);
    rig.run(3000);
    rig.control.printer.loadRoll(15_000);
    rig.control.printer.lid(false);
    expect(rig.until({ service: 'loading.intake' })).toBe(true);
    expect(rig.until({ service: 'loading.open' })).toBe(true);
    rig.press(50);
    expect(rig.until({ service: 'loading.forward' })).toBe(true);
    rig.run(150);
    rig.press(50);
    expect(rig.until({ service: 'loading.back' })).toBe(true);
    expect(rig.until({ service: 'loading.open' })).toBe(true);
    rig.send({ type: 'service.loaded' });
    expect(rig.until({ service: 'idle' })).toBe(true);
  });
});

describe('all of it', () => {
  const named = (region: Region) =>
    atomicStates(machine, region)
      .map(({ name }) => `${region} ${name}`)
      .filter(name => name !== 'output choosing');

  it('every state was reached on the virtual rig', () => {
    const all = regions.filter(region => region !== 'facts').flatMap(named);
    expect(all.filter(name => !visited.has(name))).toEqual([]);
  });
});
