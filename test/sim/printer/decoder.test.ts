import { inflateSync } from 'node:zlib';
import { describe, expect, it } from 'vitest';
import { createDecoder, type Orders } from '../../../sim/printer/decoder.ts';
import { chance } from '../../../sim/random.ts';
import encoders from './encoders.json' with { type: 'json' };

type Said = string | { rows: string[]; times: number; inner: boolean };

/** A decoder whose orders are written down. */
const listening = (widthDots = 384) => {
  const said: Said[] = [];
  const hex = (row: Uint8Array) => Buffer.from(row).toString('hex');
  const orders: Orders = {
    rows: (rows, times, inner) => void said.push({ rows: rows.map(hex), times, inner }),
    feed: lines => void said.push(`feed ${lines}`),
    cut: full => void said.push(full ? 'cut full' : 'cut partial'),
    initialise: () => void said.push('initialise'),
    heat: (...now) => void said.push(`heat ${now.join(' ')}`),
    density: argument => void said.push(`density ${argument}`),
    automaticStatus: mask => void said.push(`automatic ${mask}`),
    sleep: afterS => void said.push(`sleep ${afterS}`),
  };
  const decoder = createDecoder(widthDots, 8, orders);
  /** `most`: bytes handed over at once. */
  const send = (bytes: ArrayLike<number>, most = Number.POSITIVE_INFINITY) => {
    const all = Uint8Array.from(bytes);
    for (let at = 0; at < all.length; ) at = decoder.take(all, at, Math.min(all.length, at + most));
    return said.splice(0);
  };
  return { decoder, send };
};
const bytesOf = (hex: string) => Buffer.from(hex.replaceAll(' ', ''), 'hex');
const rowsIn = (said: Said[]) =>
  said.flatMap(one => (typeof one === 'string' ? [] : one.rows.flatMap(row => Array(one.times).fill(row) as string[])));

describe('commands, by their bytes in printer manuals', () => {
  const worked: [string, string, Said[]][] = [
    ['initialise', '1B 40', ['initialise']],
    ['print and feed 255 units: 31.9 mm at 8 dots/mm', '1B 4A FF', ['feed 255']],
    ['print and feed 3 lines of the default spacing, 30 dots', '1B 64 03', ['feed 90']],
    ['spacing 24, feed 2 lines, default spacing, 1 line', '1B 33 18 1B 64 02 1B 32 1B 64 01', ['feed 48', 'feed 30']],
    ['reverse by units, lines and dots', '1B 4B 08 1B 65 01 1B 6A 05', ['feed -8', 'feed -30', 'feed -5']],
    ['motion units of 1/180 inch: 180 are an inch', '1D 50 B4 B4 1B 4A B4', ['feed 203']],
    ['motion units back to default', '1D 50 B4 B4 1D 50 00 00 1B 4A B4', ['feed 180']],
    ['heat defaults of the panel class: 64 dots, 800 µs, 20 µs', '1B 37 07 50 02', ['heat 64 800 20']],
    ['density', '12 23 4A', ['density 74']],
    ['sleep off, and after 300 s', '1B 38 00 00 1B 38 2C 01', ['sleep 0', 'sleep 300']],
    ['automatic status', '1D 61 0F', ['automatic 15']],
    [
      'cut: full, partial, feed and cut',
      '1D 56 00 1D 56 01 1D 56 42 10',
      ['cut full', 'cut partial', 'feed 16', 'cut partial'],
    ],
    ['status now is not for the print path', '10 04 01', []],
    ['a spacing that swallows the first byte of a status request', '1B 33 10 04 01 1B 64 01', ['feed 16']],
  ];
  it.each(worked)('%s', (_, bytes, expected) => {
    const { send, decoder } = listening();
    expect(send(bytesOf(bytes))).toEqual(expected);
    expect(decoder.counts.characters).toBe(0);
  });

  it('takes 384 × 24 dots as 1D 76 30 00 30 00 18 00 and 1,152 bytes', () => {
    const { send, decoder } = listening();
    const said = send([...bytesOf('1D 76 30 00 30 00 18 00'), ...Array.from({ length: 1152 }, (_, i) => i & 255)]);
    expect(rowsIn(said)).toHaveLength(24);
    expect(rowsIn(said)[1].slice(0, 4)).toBe('3031');
    expect(said.map(one => typeof one !== 'string' && one.inner)).toEqual([false, ...Array(23).fill(true)]);
    expect(decoder.between).toBe(true);
  });

  it('takes the same as stored graphics, p = 1162 = 8A 04, and prints them when told', () => {
    const { send } = listening();
    const data = Array.from({ length: 1152 }, (_, i) => (i * 7) & 255);
    expect(send([...bytesOf('1D 28 4C 8A 04 30 70 30 01 01 31 80 01 18 00'), ...data])).toEqual([]);
    const rows = rowsIn(send(bytesOf('1D 28 4C 02 00 30 32')));
    expect(rows.join('')).toBe(Buffer.from(data).toString('hex'));
    // Printed once, then gone.
    expect(send(bytesOf('1D 28 4C 02 00 30 32'))).toEqual([]);
  });

  it('doubles width and height of a raster where its mode says so', () => {
    const { send } = listening(16);
    const [one] = send(bytesOf('1D 76 30 03 01 00 01 00 A5'));
    expect(one).toEqual({ rows: ['cc33'], times: 2, inner: false });
  });

  it('drops what is wider than the head, and fills up what is narrower', () => {
    const { send } = listening(16);
    expect(rowsIn(send(bytesOf('1D 76 30 00 03 00 02 00 11 22 33 44 55 66')))).toEqual(['1122', '4455']);
    expect(rowsIn(send(bytesOf('1D 76 30 00 01 00 01 00 FF')))).toEqual(['ff00']);
  });

  it('prints column images of 8 and 24 dots with the line feed', () => {
    const { send } = listening(16);
    const tall = rowsIn(send(bytesOf('1B 33 18 1B 2A 21 02 00 80 00 01 FF FF FF 0A')));
    expect(tall).toHaveLength(24);
    expect([tall[0], tall[1], tall[23]]).toEqual(['c000', '4000', 'c000']);
    const low = rowsIn(send(bytesOf('1B 2A 00 01 00 81 0A')));
    expect([low[0], low[2], low[3], low[20], low[21], low[23]]).toEqual([
      'c000',
      'c000',
      '0000',
      '0000',
      'c000',
      'c000',
    ]);
  });

  it('moves the paper of a printed line no further than its spacing', () => {
    const { send } = listening();
    expect(send(bytesOf('41 0A')).at(-1)).toBe('feed 6');
    expect(send(bytesOf('1B 33 18 41 0A')).filter(one => typeof one === 'string')).toEqual([]);
  });

  it('takes a raster for characters when the print buffer is not empty', () => {
    const { send, decoder } = listening(384);
    send(bytesOf('41 1D 76 30 00 01 00 02 00 42 43'));
    expect(decoder.counts.characters).toBe(3);
    expect(decoder.between).toBe(false);
  });
});

describe('against encoders that others wrote', () => {
  const expected = Array.from({ length: 56 }, (_, y) => {
    const row = Buffer.alloc(48);
    for (let x = 0; x < 384; x++) if (((x * 7 + y * 13) ^ (x * y)) % 5 === 0) row[x >> 3] |= 0x80 >> (x & 7);
    return row.toString('hex');
  });
  it.each(encoders.outputs)('$encoder agrees bit for bit', ({ deflated }) => {
    const { send, decoder } = listening();
    const rows = rowsIn(send(inflateSync(Buffer.from(deflated, 'base64'))));
    // Column images come in bands of 24, the last one filled up with white.
    expect(rows.slice(0, 56)).toEqual(expected);
    expect(rows.slice(56).join('')).toMatch(/^0*$/);
    expect(decoder.counts).toMatchObject({ unknown: 0, characters: 0 });
  });
});

describe('any bytes at all', () => {
  const streams = Number(process.env.FUZZ_STREAMS ?? 3000);
  const longestMs = 60_000 + 10 * streams;
  const luck = chance(20_260_620);
  const leads = [0x1b, 0x1d, 0x12, 0x10, 0x1c];
  const codes = [0x40, 0x4a, 0x64, 0x4b, 0x33, 0x2a, 0x37, 0x38, 0x50, 0x76, 0x28, 0x56, 0x61, 0x23, 0x04, 0x30, 0x4c];
  const stream = (): Uint8Array => {
    const length = luck.whole(0, 300);
    const lean = luck.pick([0, 0.1, 0.5]);
    return Uint8Array.from({ length }, () =>
      luck.hit(lean) ? luck.pick(leads) : luck.hit(lean) ? luck.pick(codes) : luck.whole(0, 255),
    );
  };

  it(
    `survives ${streams} random streams, and says the same however they are parted`,
    () => {
      for (let i = 0; i < streams; i++) {
        const bytes = stream();
        const whole = listening();
        const parted = listening();
        const said = whole.send(bytes);
        expect(parted.send(bytes, luck.whole(1, 9))).toEqual(said);
        expect(whole.decoder.counts).toEqual(parted.decoder.counts);
        expect(whole.decoder.wants()).toBeGreaterThanOrEqual(1);
      }
    },
    longestMs,
  );

  it(
    'does nothing before the bytes that it says it wants are there',
    () => {
      for (let i = 0; i < streams / 10; i++) {
        const { decoder, send } = listening();
        const bytes = stream();
        for (let at = 0; at < bytes.length; ) {
          const wanted = Math.min(bytes.length - at, decoder.wants());
          expect(send(bytes.subarray(at, at + wanted - 1))).toEqual([]);
          send(bytes.subarray(at + wanted - 1, at + wanted));
          at += wanted;
        }
      }
    },
    longestMs,
  );

  it('keeps what one store command holds, not what all of them held', () => {
    const { decoder, send } = listening();
    const before = process.memoryUsage().arrayBuffers;
    const data = new Uint8Array(65_525);
    for (let i = 0; i < 4000; i++) {
      send(bytesOf('1D 28 4C FF FF 30 70 30 01 01 31 FF FF FF FF'));
      send(data);
    }
    expect(decoder.between).toBe(true);
    // All of them would be 262 MB.
    expect(process.memoryUsage().arrayBuffers - before).toBeLessThan(150e6);
  });
});
