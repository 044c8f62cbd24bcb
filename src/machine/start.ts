import { createActor } from 'xstate';
import type { Config } from '../config/schema.ts';
import type { Log } from '../console/vocabulary.ts';
import type { Clock, Undo } from '../parts/clock.ts';
import type { PrintEngine } from '../parts/engine.ts';
import type { Rig } from '../parts/rig.ts';
import type { Frame } from '../parts/webcam.ts';
import { createCameraMachine } from './camera-machine.ts';
import type { ServiceInput } from './events.ts';
import { createSignalPlayer } from './signal-player.ts';
import { type SignalFacts, sameFacts, signalsOf } from './signals.ts';
import { type States, sameStates, statesOf } from './states.ts';
import type { RollAccount, World } from './world.ts';

export interface MachineOptions {
  rig: Omit<Rig, 'printer'>;
  engine: PrintEngine;
  config: Config;
  profile: World['profile'];
  roll: RollAccount;
  /** Paper that a picture takes with its margin, until one was measured, mm. */
  pictureMm: number;
  log: Log;
  /** Names a frame's content in the log; left out, the log says nothing of it. */
  digest?(frame: Frame): string;
  /** After each input, where any region moved. */
  onTransition?(states: States): void;
  /** The machine itself broke, which is a fault of the program; everything was let go. */
  onBroken?(error: unknown): void;
}

export interface RunningMachine {
  send(input: ServiceInput): void;
  states(): States;
  /** How many frames are held in memory: what is on its way to paper, and the last one printed. */
  framesHeld(): number;
  /** Calls once, when the machine has closed and let go of everything. */
  closed(heard: () => void): Undo;
  /** Lets go of everything at once, wherever it is. */
  stop(): void;
}

/** XState's timers on our clock: milliseconds there, microseconds here. */
const timersOn = (clock: Clock) => ({
  setTimeout: (due: (...args: unknown[]) => void, timeoutMs: number) => clock.after(timeoutMs * 1000, due),
  clearTimeout: (undo: Undo) => undo(),
});

/** Puts the machine on a rig and starts it. */
export const startMachine = (options: MachineOptions): RunningMachine => {
  const { rig, engine, config, profile, roll, log } = options;
  const world: World = {
    rig,
    engine,
    config,
    profile,
    roll,
    log,
    memory: { frames: new Map(), dots: null },
    held: new Set(),
    digest: options.digest ?? (() => ''),
    pictureMm: options.pictureMm,
  };
  const actor = createActor(createCameraMachine(world), { id: 'camera', clock: timersOn(rig.clock) as never });
  const player = createSignalPlayer(rig, config.motor, log);
  const listeners = new Set<() => void>();
  let states = statesOf(actor.getSnapshot().value);
  let facts: SignalFacts | null = null;

  const letGo = () => {
    for (const undo of [...world.held]) undo();
    world.held.clear();
    player.stop();
  };
  const broke = (error: unknown) => {
    letGo();
    if (!options.onBroken) throw error;
    options.onBroken(error);
  };

  actor.subscribe({
    next({ value, context }) {
      const next = statesOf(value);
      const moved = !sameStates(next, states);
      if (moved || !sameFacts(context, facts)) player.play(signalsOf(next, context));
      facts = context;
      if (!moved) return;
      states = next;
      try {
        options.onTransition?.(states);
      } catch (error) {
        actor.stop();
        broke(error);
      }
    },
    error: broke,
    complete() {
      letGo();
      for (const heard of [...listeners]) heard();
      listeners.clear();
    },
  });
  actor.start();

  return {
    send(input) {
      if (actor.getSnapshot().status === 'active') actor.send(input);
    },
    states: () => states,
    framesHeld: () => world.memory.frames.size,
    closed(heard) {
      const once = () => heard();
      listeners.add(once);
      return () => void listeners.delete(once);
    },
    stop() {
      actor.stop();
      letGo();
    },
  };
};
