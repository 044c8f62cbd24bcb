import { readdirSync, readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { drawParty } from '../../sim/party.ts';
import { runParty } from '../../sim/party-run.ts';
import { type Script, type Step, scriptSchema } from '../../sim/script.ts';
import { parseSettings } from '../../src/config/settings.ts';
import { camera } from './program.ts';
import { shrink } from './shrink.ts';

const words = (script: Script) =>
  runParty(script, camera).violations.map(({ promise, atUs, what }) => `${promise} at ${atUs} µs: ${what}`);

// A handful, so that a broken promise shows in every run of the tests; `npm run parties` runs them by the thousand.
describe('parties of faults', () => {
  it.each([1, 2, 4, 6, 7, 8])('seed %i keeps every promise', seed => {
    expect(words(drawParty(seed))).toEqual([]);
  });

  // Each broke a promise once; shrunk, and kept from then on.
  const kept = new URL('./kept/', import.meta.url);
  it.each(readdirSync(kept))('%s keeps every promise', name => {
    const script = parseSettings(readFileSync(new URL(name, kept), 'utf8'), scriptSchema, name, 'script');
    expect(words(script)).toEqual([]);
  });

  it('the same seed is the same run', () => {
    const log = () => {
      const lines: string[] = [];
      runParty(drawParty(9), camera, { onLog: line => lines.push(JSON.stringify(line)) });
      return lines;
    };
    expect(log()).toEqual(log());
  });

  it('a failing party is shrunk to what makes it fail', () => {
    const steps: Step[] = [3, 1, 4, 1, 5, 9, 2, 6].map(atS => ({ do: 'press', atS, holdMs: 50, bounce: true }));
    const script = scriptSchema.parse({ steps, endS: 30 });
    const fails = ({ steps }: Script) => [9, 2].every(wanted => steps.some(({ atS }) => atS === wanted));
    expect(shrink(script, fails).steps.map(({ atS }) => atS)).toEqual([9, 2]);
  });
});
