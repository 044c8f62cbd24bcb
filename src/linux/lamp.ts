import { readFileSync, writeFileSync } from 'node:fs';
import type { Undo } from '../parts/clock.ts';
import type { Lamp, LampPattern } from '../parts/lamp.ts';
import type { OutputLine } from './gpio/lines.ts';
import { codeOf, deviceFault } from './native.ts';
import type { Timing } from './timing.ts';

/** What gives light: a GPIO line, or a LED of the kernel's. */
export interface Light {
  set(lit: boolean): void;
  close(): void;
}

export interface BoardLamp extends Lamp {
  /** Dark, and let go. */
  close(): void;
}

/** Plays patterns on the timing. A second call with the same pattern doesn't restart its rhythm. */
export const createLamp = (timing: Timing, light: Light): BoardLamp => {
  let shown: LampPattern | null = null;
  let lit = false;
  let stop: Undo = () => {};

  const set = (on: boolean) => {
    if (on === lit) return;
    lit = on;
    light.set(on);
  };
  const play = (steps: readonly number[], at: number) => {
    set(at % 2 === 0);
    if (!Number.isFinite(steps[at])) return;
    stop = timing.after(steps[at] * 1000, () => play(steps, (at + 1) % steps.length));
  };

  return {
    show(pattern) {
      if (shown?.name === pattern.name && shown.stepsMs.join() === pattern.stepsMs.join()) return;
      stop();
      shown = pattern;
      if (pattern.stepsMs.length === 0) set(false);
      else play(pattern.stepsMs, 0);
    },
    close() {
      stop();
      set(false);
      light.close();
    },
  };
};

export const lineLight = (line: OutputLine): Light => ({ set: line.set, close: line.close });

/** A LED in `/sys/class/leds`; its trigger is put back when it is let go. */
export const ledLight = (name: string, root = ''): Light => {
  const folder = `${root}/sys/class/leds/${name}`;
  const write = (file: string, text: string) => writeFileSync(`${folder}/${file}`, text);
  let brightest = '1';
  let trigger = 'none';
  try {
    brightest = readFileSync(`${folder}/max_brightness`, 'utf8').trim();
    trigger = /\[(.+?)\]/.exec(readFileSync(`${folder}/trigger`, 'utf8'))?.[1] ?? 'none';
    write('trigger', 'none');
    write('brightness', '0');
  } catch (error) {
    throw deviceFault(error, 'lamp', folder, 'leds');
  }
  return {
    set(lit) {
      try {
        write('brightness', lit ? brightest : '0');
      } catch (error) {
        // A LED on a hub that was unplugged: nothing to light any more.
        if (codeOf(error) !== 'ENOENT' && codeOf(error) !== 'ENODEV') throw error;
      }
    },
    close() {
      try {
        if (trigger !== 'none') write('trigger', trigger);
      } catch {
        // Gone; nothing to put back.
      }
    },
  };
};
