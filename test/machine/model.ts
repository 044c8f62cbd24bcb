import { type AnyStateNode, type SnapshotFrom, transition } from 'xstate';
import { defaultProfile } from '../../src/config/profile.ts';
import { type Config, defaultConfig } from '../../src/config/schema.ts';
import { type CameraMachine, createCameraMachine } from '../../src/machine/camera-machine.ts';
import { type Context, initialContext, type Queued, type Taking } from '../../src/machine/context.ts';
import type { CameraEvent } from '../../src/machine/events.ts';
import type { World } from '../../src/machine/world.ts';
import { fine, frameAt, someDots } from './desk.ts';

export type Snapshot = SnapshotFrom<CameraMachine>;
export const regions = ['facts', 'button', 'exposure', 'output', 'service', 'notice'] as const;
export type Region = (typeof regions)[number];

/** A world in which nothing ever happens by itself: for looking at transitions without carrying them out. */
export const stillWorld = (change: (config: Config) => void = () => {}, reverse = false): World => {
  const config = defaultConfig();
  change(config);
  const profile = defaultProfile();
  profile.commands.reverse = reverse;
  const never = () => () => {};
  return {
    rig: {
      clock: { nowUs: () => 5_000_000, wallMs: () => Date.UTC(2026, 0, 2), after: never },
      button: { listen: never },
      shutter: { energise() {}, release() {} },
      webcam: { open: never, watch: never },
      darkroom: { develop: never },
      lamp: { show() {} },
      motor: { drive() {} },
      album: { open: never, keep() {}, mark() {}, keepDots() {}, recall: never, paperUsed() {} },
      supply: { listen: never },
    },
    engine: { open: never, printBody: never, printTail: never, feed: never, restUs: () => 0 },
    config,
    profile,
    roll: { used() {}, newRoll() {}, leftMm: () => 9000, picturesLeft: () => 100, nearEnd: () => false },
    log() {},
    memory: { frames: new Map(), dots: null },
    held: new Set(),
    digest: () => '',
    pictureMm: 78,
  };
};

export const queued = (shot: number, change: Partial<Queued> = {}): Queued => ({
  shot,
  stage: 'body',
  kept: 'yes',
  inMemory: true,
  again: false,
  numbered: true,
  takenAtMs: null,
  pressedUs: 1_000_000,
  tries: 0,
  ...change,
});

export const taking = (change: Partial<Taking> = {}): Taking => ({
  shot: 7,
  pressedUs: 4_900_000,
  settledUs: 8000,
  takenAtMs: null,
  notBeforeUs: 4_908_000,
  left: 0,
  numbered: true,
  struck: true,
  safe: true,
  grabbedUs: 4_950_000,
  ...change,
});

/** All is well: webcam, album and printer are there. */
export const wellContext = (change: Partial<Context> = {}): Context => ({
  ...initialContext(78),
  seeing: true,
  albumKnown: true,
  condition: fine,
  taking: taking(),
  nextShot: 8,
  edgeUs: 4_992_000,
  ...change,
});

const resting: Record<Region, string> = {
  facts: 'listening',
  button: 'open',
  exposure: 'ready',
  output: 'idle',
  service: 'idle',
  notice: 'quiet',
};

const nested = (path: string): unknown =>
  path.split('.').reduceRight<unknown>((inner, name) => (inner === undefined ? name : { [name]: inner }), undefined);

/** A snapshot with one region in a state and the others where they rest, unless said otherwise. */
export const snapshotAt = (
  machine: CameraMachine,
  states: Partial<Record<Region, string>>,
  context: Context = wellContext(),
): Snapshot =>
  machine.resolveState({
    value: {
      awake: Object.fromEntries(
        Object.entries({ ...resting, ...states }).map(([region, path]) => [region, nested(path)]),
      ),
    } as never,
    context,
  });

const flat = (value: unknown): string =>
  typeof value === 'string'
    ? value
    : Object.entries(value as Record<string, unknown>)
        .map(([name, inner]) => `${name}.${flat(inner)}`)
        .join();

export const stateOf = (snapshot: Snapshot, region: Region): string => {
  const { value } = snapshot;
  return typeof value === 'string' ? value : flat((value.awake as Record<string, unknown>)[region]);
};

export const step = (machine: CameraMachine, from: Snapshot, event: CameraEvent | { type: string }): Snapshot =>
  transition(machine, from, event as never)[0];

/** What an input does to one region: moves it, starts its state over, only acts, or nothing at all. */
export const outcome = (
  machine: CameraMachine,
  from: Snapshot,
  region: Region,
  event: CameraEvent | { type: string },
): string => {
  const was = stateOf(from, region);
  const is = stateOf(step(machine, from, event), region);
  if (is !== was) return `-> ${is}`;
  const inside = (node: { path: string[] }) => node.path[1] === region;
  const taken = machine.getTransitionData(from, event as never).filter(({ source }) => inside(source as AnyStateNode));
  if (taken.some(({ target, reenter }) => target && (reenter || target.length > 0))) return 'again';
  return taken.some(({ actions }) => actions.length > 0) ? 'acts' : 'ignored';
};

/** The states of a region in which it can rest, by name. */
export const atomicStates = (machine: CameraMachine, region: Region): { name: string; node: AnyStateNode }[] => {
  const found: { name: string; node: AnyStateNode }[] = [];
  const walk = (node: AnyStateNode) => {
    const children = Object.values(node.states) as AnyStateNode[];
    if (children.length === 0) found.push({ name: node.path.slice(2).join('.'), node });
    for (const child of children) walk(child);
  };
  walk((machine.root as AnyStateNode).states.awake.states[region]);
  return found;
};

/** `xstate.after.settle.camera.awake.button.settling.made` → `after settle`; `xstate.error.actor.body` → `error body`. */
export const shortName = (type: string): string =>
  type.replace(/^xstate\.after\.([^.]+)\..*$/, 'after $1').replace(/^xstate\.error\.actor\./, 'error ');

/** Timers and failures of a state and of what it lies in, within its region; short name to full type. */
export const ownEvents = (node: AnyStateNode): Map<string, string> => {
  const own = new Map<string, string>();
  for (let at: AnyStateNode | undefined = node; at && at.path.length >= 2; at = at.parent)
    for (const type of at.ownEvents) if (type.startsWith('xstate.')) own.set(shortName(type), type);
  return own;
};

/** Everything that can be said to the machine from outside or between its regions. */
export const inputTypes = (machine: CameraMachine): string[] =>
  [...new Set(machine.events as string[])].filter(type => !type.startsWith('xstate.')).sort();

/** One example of each input; `shot` is the one in question. */
export const example = (type: string, shot = 7): CameraEvent => {
  const all: Record<string, object> = {
    'service.jog': { mm: 10 },
    'service.close': { why: 'test' },
    'contact.made': { atUs: 5_000_000 },
    'contact.broken': { atUs: 5_000_000 },
    'webcam.lost': { why: 'unplugged' },
    'album.opened': { pending: [], nextShot: 1, paperUsedMm: 0 },
    'album.trouble': { why: 'disk full' },
    'album.asked': { shot },
    'printer.condition': { condition: fine },
    'supply.voltage': { volts: 7.4, low: false },
    'coil.on': { atUs: 5_000_000 },
    'coil.off': { onUs: 4_975_000, atUs: 5_000_000 },
    'coil.failed': { why: 'no current', onUs: null },
    'frame.fit': { frame: frameAt(5_050_000) },
    'keep.done': { shot },
    'keep.failed': { shot, why: 'disk full' },
    'mark.done': { shot, mark: 'closing' },
    'mark.failed': { shot, mark: 'closing', why: 'disk full' },
    'recall.done': { frame: frameAt(0), takenAtMs: null },
    'recall.failed': { why: 'missing' },
    'develop.done': { dots: someDots },
    'develop.failed': { why: 'not a JPEG' },
    'body.done': { paperLines: 600 },
    'body.stopped': { paperLines: 200 },
    'tail.done': { paperLines: 120 },
    'tail.stopped': { paperLines: 20 },
    'feed.done': { paperLines: 40 },
    'feed.stopped': { paperLines: 10 },
    PRESS: { pressedUs: 4_992_000, settledUs: 8000 },
    DOUBLE: { pressedUs: 4_992_000, settledUs: 8000 },
    TAKE: { pressedUs: 4_992_000, settledUs: 8000 },
  };
  return { type, ...all[type] } as CameraEvent;
};

export const createStillMachine = (change?: (config: Config) => void, reverse?: boolean): CameraMachine =>
  createCameraMachine(stillWorld(change, reverse));
