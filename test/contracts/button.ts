import { expect } from 'vitest';
import type { Button, ButtonSaid } from '../../src/parts/button.ts';
import { contract, type Make, type Passing, passUntil } from './make.ts';

export interface ButtonBench extends Passing {
  button: Button;
  /** The contact closes or opens, without bounce. */
  contact(down: boolean): void;
}

const listen = ({ button }: ButtonBench) => {
  const heard: ButtonSaid[] = [];
  return { heard, stop: button.listen(said => heard.push(said)) };
};
const levels = (heard: ButtonSaid[]) => heard.map(({ down }) => down);

export const buttonContract = (name: string, make: Make<ButtonBench>): void =>
  contract('button', name, make, {
    'says nothing inside the call that listens': async bench => {
      const { heard } = listen(bench);
      expect(heard).toEqual([]);
    },
    'says each edge once, with a stamp between before and after': async bench => {
      const { heard } = listen(bench);
      await bench.pass(20);
      const downUs = bench.nowUs();
      bench.contact(true);
      await bench.pass(60);
      await passUntil(bench, () => heard.length > 0, 20);
      const upUs = bench.nowUs();
      bench.contact(false);
      await bench.pass(60);
      await passUntil(bench, () => heard.length > 1, 20);
      await bench.pass(60);
      expect(levels(heard)).toEqual([true, false]);
      for (const [i, fromUs] of [downUs, upUs].entries()) {
        expect(heard[i].atUs).toBeGreaterThanOrEqual(fromUs);
        expect(heard[i].atUs).toBeLessThanOrEqual(fromUs + bench.graceUs());
      }
    },
    'ends a bounce at the level of the contact, levels taking turns': async bench => {
      const { heard } = listen(bench);
      await bench.pass(20);
      for (let i = 0; i < 9; i++) {
        bench.contact(i % 2 === 0);
        await bench.pass(1);
      }
      await bench.pass(100);
      expect(heard.length).toBeGreaterThan(0);
      expect(levels(heard)).toEqual(heard.map((_, i) => i % 2 === 0));
      expect(heard.at(-1)?.down).toBe(true);
      expect(heard.every(({ atUs }, i) => i === 0 || atUs >= heard[i - 1].atUs)).toBe(true);
    },
    'says nothing once it is undone, and undoing twice is harmless': async bench => {
      const { heard, stop } = listen(bench);
      const other = listen(bench);
      await bench.pass(20);
      stop();
      stop();
      bench.contact(true);
      await bench.pass(60);
      expect(heard).toEqual([]);
      expect(levels(other.heard)).toEqual([true]);
    },
  });
