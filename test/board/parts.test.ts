import { describe, expect, it } from 'vitest';
import { boot } from './board.ts';

interface Result {
  title: string;
  pending: boolean;
  error?: string;
  ms: number;
}

/** Runs each suite inside the guest; every case of it is a test here. */
const board = await boot({ name: 'parts' });
for (const suite of ['lines', 'camera', 'printers']) {
  const { code, output } = await board.job(`node /program/board/${suite}.mjs`, 200_000);
  const results = output
    .split('\n')
    .filter(line => line.startsWith('{"title"'))
    .map(line => JSON.parse(line) as Result);
  describe(`on the emulated board: ${suite}`, () => {
    for (const { title, pending, error } of results)
      if (pending) it.todo(title);
      else
        it(title, () => {
          expect(error).toBeUndefined();
        });
    it('ends well', () => {
      expect(code, output.slice(-2000)).toBe(0);
      expect(results.length).toBeGreaterThan(10);
    });
  });
}
await board.cut();
