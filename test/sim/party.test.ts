import { describe, expect, it } from 'vitest';
import { drawCalm, drawFaults, drawParty } from '../../sim/party.ts';
import { scriptSchema } from '../../sim/script.ts';
import { schemaText } from '../../src/config/sample.ts';

describe('parties', () => {
  it('are the same for the same seed', () => {
    expect(drawParty(5)).toEqual(drawParty(5));
    expect(drawParty(5)).not.toEqual(drawParty(6));
    expect(drawFaults(5).config).toBeUndefined();
  });

  it('have their turns and faults in the ratios that are written down', () => {
    const counts = new Map<string, number>();
    const parties = 400;
    const turns = 60;
    for (let seed = 1; seed <= parties; seed++)
      for (const step of drawFaults(seed, { turns, turnS: 1 }).steps) {
        const kind = step.do === 'cut' ? 'fault' : step.do;
        counts.set(kind, (counts.get(kind) ?? 0) + 1);
      }
    // 64 % and 3 % (holds are long presses), 6 %, 9 %, 6 %, and faults in 26 % of the turns.
    const share = (kind: string) => (counts.get(kind) ?? 0) / (parties * turns);
    expect(share('press')).toBeCloseTo(0.67, 1.7);
    expect(share('double')).toBeCloseTo(0.06, 1.7);
    expect(share('mash')).toBeCloseTo(0.09, 1.7);
    expect(share('storm')).toBeCloseTo(0.06, 1.7);
    expect(share('fault')).toBeCloseTo(0.26, 1.7);
  });

  it('a calm evening brings a thousand pictures in about five hours', () => {
    const evening = drawCalm(1, 1000);
    expect(evening.steps).toHaveLength(1000);
    expect(evening.endS / 3600).toBeCloseTo(5, 0);
  });

  // After a change of the schema: npx vitest run --config test/vitest.config.ts -u test/sim/party.test.ts
  it('the published JSON Schema is that of the scripts', async () => {
    await expect(schemaText(scriptSchema, 'Party script of slipshutter')).toMatchFileSnapshot(
      new URL('../../config/party.schema.json', import.meta.url).pathname,
    );
  });
});
