import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { automaticStatus, type Senses, statusNow } from '../../sim/printer/status.ts';
import { chance } from '../../sim/random.ts';
import {
  answerFlags,
  automaticFlags,
  conditionOf,
  createStatusDecoder,
  quietFlags,
  type StatusSaid,
} from '../../src/print/status.ts';

const decode = (bytes: readonly number[]) => {
  const said: StatusSaid[] = [];
  const decoder = createStatusDecoder(one => said.push(one));
  decoder.take(Uint8Array.from(bytes));
  return { said, garbage: decoder.garbage };
};

describe('status bytes', () => {
  // Bits as command manuals give them under "transmit real-time status" and "automatic status back".
  it('idle is 12, near end 1E, end 72', () => {
    for (const n of [1, 2, 3, 4] as const) expect(Object.values(answerFlags(n, 0x12))).not.toContain(true);
    expect(answerFlags(4, 0x1e)).toEqual({ nearEnd: true, paperEnd: false });
    expect(answerFlags(4, 0x72)).toEqual({ nearEnd: false, paperEnd: true });
    expect(answerFlags(4, 0x7e)).toEqual({ nearEnd: true, paperEnd: true });
  });

  it.each([
    [1, 0x08, 'offLine'],
    [2, 0x04, 'lidOpen'],
    [2, 0x08, 'feeding'],
    [2, 0x20, 'paperStop'],
    [2, 0x40, 'error'],
    [3, 0x08, 'cutter'],
    [3, 0x20, 'unrecoverable'],
    [3, 0x40, 'recovers'],
  ] as const)('answer %i bit %i is %s and nothing else', (n, mask, name) => {
    expect(Object.entries(answerFlags(n, 0x12 | mask)).filter(([, on]) => on)).toEqual([[name, true]]);
  });

  it.each([
    [0x18, 0, 0, 'offLine'],
    [0x30, 0, 0, 'lidOpen'],
    [0x50, 0, 0, 'feeding'],
    [0x10, 0x08, 0, 'cutter'],
    [0x10, 0x20, 0, 'unrecoverable'],
    [0x10, 0x40, 0, 'recovers'],
    [0x10, 0, 0x03, 'nearEnd'],
    [0x10, 0, 0x0c, 'paperEnd'],
  ] as const)('automatic status %i %i %i is %s and nothing else', (a, b, c, name) => {
    expect(Object.entries(automaticFlags(a, b, c)).filter(([, on]) => on)).toEqual([[name, true]]);
    // The drawer's bit says nothing about printing.
    expect(automaticFlags(a | 4, b, c)).toEqual(automaticFlags(a, b, c));
  });

  it('agrees with another reading of the same manuals, the virtual printer’s, in every state', () => {
    const senses = ['paperOut', 'nearEnd', 'lidOpen', 'hot', 'feeding', 'broken', 'cutterJammed'] as const;
    for (let state = 0; state < 1 << senses.length; state++) {
      const s = Object.fromEntries(senses.map((name, i) => [name, (state >> i) % 2 === 1])) as unknown as Senses;
      const polled = ([1, 2, 3, 4] as const).reduce(
        (flags, n) => Object.assign(flags, answerFlags(n, statusNow(n, s))),
        { ...quietFlags },
      );
      const [first, second, third] = automaticStatus(s);
      for (const flags of [polled, automaticFlags(first, second, third)]) {
        const condition = conditionOf(flags, false);
        expect(condition.paperOut).toBe(s.paperOut);
        expect(condition.lidOpen).toBe(s.lidOpen);
        expect(condition.headHot).toBe(s.hot);
        expect(condition.nearEnd).toBe(s.nearEnd);
        const only = !s.paperOut && !s.lidOpen && !s.hot;
        expect(condition.offLine).toBe(s.broken || s.cutterJammed || (s.feeding && only));
      }
    }
  });
});

describe('status decoder', () => {
  it('sorts by the fixed bits: byte & 93 is 10, 12, 11 or 13', () => {
    expect(decode([0x12, 0x11, 0x13, 0x10, 0, 0, 0]).said).toEqual([
      { kind: 'answer', byte: 0x12 },
      { kind: 'go' },
      { kind: 'stop' },
      { kind: 'automatic', flags: quietFlags },
    ]);
  });

  it('lets XOFF and XON come between the four bytes', () => {
    const { said, garbage } = decode([0x13, 0x18, 0x13, 0x00, 0x11, 0x0c, 0x13, 0x00]);
    expect(said.map(one => one.kind)).toEqual(['stop', 'stop', 'go', 'stop', 'automatic']);
    expect(said.at(-1)).toMatchObject({ flags: { offLine: true, paperEnd: true } });
    expect(garbage).toBe(0);
  });

  it('drops a half that is followed by something whole', () => {
    const { said, garbage } = decode([0x10, 0x00, 0x10, 0, 0x0c, 0, 0x10, 0x12]);
    expect(said.map(one => one.kind)).toEqual(['automatic', 'answer']);
    expect(garbage).toBe(3);
  });

  it('drops garbage, and reads on behind it', () => {
    const { said, garbage } = decode([0xff, 0x80, 0x00, 0x93, 0x91, 0x05, 0x17, 0x12]);
    expect(said).toEqual([{ kind: 'answer', byte: 0x12 }]);
    expect(garbage).toBe(7);
  });

  it('reads the same however the stream is cut', () => {
    fc.assert(
      fc.property(fc.uint8Array({ maxLength: 200 }), fc.array(fc.nat(20)), (bytes, cuts) => {
        const said: StatusSaid[] = [];
        const decoder = createStatusDecoder(one => said.push(one));
        let at = 0;
        for (const cut of [...cuts, bytes.length]) {
          decoder.take(bytes.subarray(at, at + cut));
          at += cut;
        }
        expect({ said, garbage: decoder.garbage }).toEqual(decode([...bytes]));
      }),
    );
  });

  it('accounts for every byte', () => {
    fc.assert(
      fc.property(fc.uint8Array({ maxLength: 300 }), bytes => {
        const { said, garbage } = decode([...bytes]);
        const explained = said.reduce((sum, one) => sum + (one.kind === 'automatic' ? 4 : 1), 0);
        const rest = bytes.length - explained - garbage;
        expect(rest).toBeGreaterThanOrEqual(0);
        expect(rest).toBeLessThan(4);
      }),
    );
  });

  it('forgets a half when told to', () => {
    const said: StatusSaid[] = [];
    const decoder = createStatusDecoder(one => said.push(one));
    decoder.take(Uint8Array.of(0x10, 0, 0));
    decoder.reset();
    decoder.take(Uint8Array.of(0));
    expect(said).toEqual([]);
  });

  it('survives a million random streams, whole statuses among garbage', () => {
    const streams = 1_000_000;
    const draw = chance(20);
    let found = 0;
    let heard = 0;
    const decoder = createStatusDecoder(said => {
      heard++;
      if (said.kind === 'automatic' && said.flags.lidOpen && said.flags.nearEnd && said.flags.cutter) found++;
    });
    const stream = new Uint8Array(24);
    for (let i = 0; i < streams; i++) {
      for (let at = 0; at < 20; at++) stream[at] = draw.whole(0, 255);
      stream.set([0x30, 0x08, 0x03, 0x00], 20);
      decoder.take(stream);
    }
    expect(found).toBeGreaterThanOrEqual(streams);
    expect(heard + decoder.garbage).toBeLessThanOrEqual(streams * stream.length);
  });
});

describe('condition', () => {
  it('calls off line only what nothing else explains', () => {
    expect(conditionOf({ ...quietFlags, offLine: true }, false).offLine).toBe(true);
    expect(conditionOf({ ...quietFlags, offLine: true, paperEnd: true }, false)).toMatchObject({
      offLine: false,
      paperOut: true,
    });
    expect(conditionOf({ ...quietFlags, error: true }, false).offLine).toBe(true);
    expect(conditionOf({ ...quietFlags, error: true, recovers: true }, false)).toMatchObject({
      offLine: false,
      headHot: true,
    });
    expect(conditionOf({ ...quietFlags, lidOpen: true, cutter: true }, false).offLine).toBe(true);
  });

  it('takes paper that stopped a print for paper that is out', () => {
    expect(conditionOf({ ...quietFlags, paperStop: true }, false).paperOut).toBe(true);
  });

  it('carries what is known beside the printer’s word', () => {
    expect(conditionOf(quietFlags, true).lost).toBe(true);
  });
});
