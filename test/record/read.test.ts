import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import fc from 'fast-check';
import { afterAll, describe, expect, it } from 'vitest';
import { isFault } from '../../src/parts/fault.ts';
import { checkEntry } from '../../src/record/entry.ts';
import { createRecordingParser, type Item, readRecording } from '../../src/record/read.ts';
import { createRecorder, headerOf } from '../../src/record/recorder.ts';
import { edited, recordScript, scriptOf, smallConfig, smallProfile } from './desk.ts';

const folder = mkdtempSync(join(tmpdir(), 'read-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const parse = (text: string | Uint8Array, sizes: readonly number[] = []) => {
  const bytes = typeof text === 'string' ? Buffer.from(text) : text;
  const parser = createRecordingParser('party.ndjson');
  const items: Item[] = [];
  let at = 0;
  for (const size of sizes) {
    items.push(...parser.push(bytes.subarray(at, at + size)));
    at += size;
  }
  items.push(...parser.push(bytes.subarray(at)), ...parser.end());
  return { items, mended: parser.mended };
};
const faultOf = (text: string | Uint8Array) => {
  try {
    parse(text);
  } catch (error) {
    if (isFault(error)) return error;
    throw error;
  }
  throw new Error('it was read');
};

const { text } = recordScript(
  scriptOf(
    [
      { do: 'press', atS: 3 },
      { do: 'fault', fault: 'disk-full', atS: 5, forS: 3 },
      { do: 'fault', fault: 'printer-unplugged', atS: 6, forS: 1 },
      { do: 'fault', fault: 'webcam-unplugged', atS: 8, forS: 1 },
      { do: 'fault', fault: 'battery-weak', atS: 10, forS: 3 },
      { do: 'press', atS: 10.5 },
      { do: 'press', atS: 5.5 },
    ],
    16,
  ),
).lives[0];
const lineCount = text.trimEnd().split('\n').length;

describe('reading a recording', () => {
  it('gives every line that was written, however its bytes come in', () => {
    const whole = parse(text);
    expect(whole.items).toHaveLength(lineCount);
    expect(whole.mended).toEqual([]);
    fc.assert(
      fc.property(fc.array(fc.integer({ min: 0, max: 5000 }), { maxLength: 40 }), sizes => {
        expect(parse(text, sizes).items).toEqual(whole.items);
      }),
      { numRuns: 30 },
    );
  });

  it('knows every line that a rehearsal with many faults leaves', () => {
    const kinds = new Set(parse(text).items.map(item => (item.kind === 'input' ? `${item.entry.part}` : 'header')));
    expect([...kinds].sort()).toEqual([
      'album',
      'button',
      'clock',
      'darkroom',
      'header',
      'printer',
      'service',
      'shutter',
      'supply',
      'webcam',
    ]);
  });

  it('drops a last line that was cut off anywhere, and says so', () => {
    const lastAt = text.trimEnd().lastIndexOf('\n') + 1;
    const whole = text.trimEnd();
    for (let at = lastAt + 1; at < whole.length; at++) {
      const { items, mended } = parse(text.slice(0, at));
      expect(items).toHaveLength(lineCount - 1);
      expect(mended).toEqual([`line ${lineCount} was cut off and is left out`]);
    }
    expect(parse(whole).items).toHaveLength(lineCount);
  });

  it('drops zeros at the end, as a power cut leaves them', () => {
    const { items, mended } = parse(Buffer.concat([Buffer.from(text), Buffer.alloc(300)]));
    expect(items).toHaveLength(lineCount);
    expect(mended).toHaveLength(1);
  });

  it('takes the mark that some editors put before the first line', () => {
    expect(parse(`\ufeff${text}`)).toEqual(parse(text));
  });

  it('reads one life after another, the first cut off in the midst of a line', () => {
    for (const between of ['', '\n']) {
      const torn = text.slice(0, text.length - 9);
      const { items, mended } = parse(`${torn}${between}${text}`);
      expect(items.filter(({ kind }) => kind === 'header')).toHaveLength(2);
      expect(items).toHaveLength(2 * lineCount - 1);
      expect(mended).toHaveLength(1);
    }
  });

  it('refuses a line that is broken in the midst, by its number', () => {
    for (const [change, words] of [
      [(line: string) => line.slice(0, 12), 'isn’t JSON'],
      [() => '[1, 2]', 'isn’t an object'],
      [() => '{"t":3000000,"part":"toaster","kind":"ready"}', 'there is no part called "toaster"'],
      [() => '{"t":3000000,"part":"button","kind":"ready"}', 'button never says "ready"'],
      [() => '{"t":9007199254740991,"part":"webcam","kind":"ready"}', "'t' is more than 315576000000000 µs, ten years"],
      [() => '{"t":-1,"part":"webcam","kind":"ready"}', "'t' is less than 0"],
      [() => '{"t":1.5,"part":"webcam","kind":"ready"}', "'t' is missing or no int"],
      [() => '{"t":3000000,"part":"webcam","kind":"ready","soon":true}', "there is no 'soon' in it"],
      [() => '{"t":3000000,"part":"printer","kind":"bytes","hex":"1"}', "'hex' is not what it should be"],
    ] as const) {
      const fault = faultOf(edited(text, lines => lines.map((line, i) => (i === 20 ? change(line) : line))));
      expect(fault.message).toContain('party.ndjson, line 21: ');
      expect(fault.message).toContain(words);
      expect(fault.mend).toContain('head -n 20');
      expect(fault.exitCode).toBe(5);
    }
  });

  it('refuses lines that changed places', () => {
    const fault = faultOf(edited(text, lines => [...lines.slice(0, 30), lines[40], ...lines.slice(30)]));
    expect(fault.message).toMatch(/line 32: time goes back from \d+ to \d+ µs/);
  });

  it('refuses a header whose settings were edited, or that a newer program wrote', () => {
    expect(faultOf(text.replace('"pulseMs":25', '"pulseMs":26')).message).toContain('their hash differs');
    expect(faultOf(text.replace('"version":1', '"version":2')).message).toContain('newer than this program');
    expect(faultOf(text.replace('"shutterSays":true,', '')).message).toContain('line 1: its header isn’t whole');
  });

  it('says what a file is that is no recording', () => {
    expect(faultOf('').message).toBe('party.ndjson is empty');
    expect(faultOf('{"level":"info","time":1,"mono":2,"event":"ready"}\n').message).toContain('is a log, no recording');
    expect(faultOf('what is this\n').message).toContain('isn’t a recording');
  });

  it('reads from a file, and says which one it can’t read', async () => {
    const path = join(folder, 'r.ndjson');
    writeFileSync(path, text);
    let count = 0;
    let last = 0;
    for await (const items of readRecording(path, { onBytes: bytes => (last = bytes) })) count += items.length;
    expect(count).toBe(lineCount);
    expect(last).toBe(Buffer.byteLength(text));
    const read = async (name: string) => {
      for await (const _ of readRecording(name));
    };
    await expect(read(join(folder, 'none'))).rejects.toThrow('there is no such file');
    await expect(read(folder)).rejects.toThrow('it is a folder');
  });

  it('either reads a damaged recording as far as it is whole or refuses it, and never gives what was not in it', () => {
    const truth = new Set(parse(text).items.map(item => JSON.stringify({ ...item, line: 0 })));
    fc.assert(
      fc.property(fc.nat(text.length - 1), fc.nat(400), fc.uint8Array({ maxLength: 8 }), (at, cut, spoil) => {
        const bytes = Buffer.from(text);
        const damaged = Buffer.concat([bytes.subarray(0, at), spoil, bytes.subarray(at + cut)]);
        try {
          const { items } = parse(damaged);
          // A digit that is gone or came in leaves a line that is right in its form.
          const strange = items.filter(item => !truth.has(JSON.stringify({ ...item, line: 0 })));
          expect(strange.length).toBeLessThanOrEqual(1);
        } catch (error) {
          expect(isFault(error)).toBe(true);
        }
      }),
      { numRuns: 60 },
    );
  });
});

describe('an input', () => {
  const bytes = fc.uint8Array({ maxLength: 40 });
  const us = fc.nat();
  const shot = fc.integer({ min: 1, max: 1e6 });
  const said = fc.oneof(
    fc.record({
      part: fc.constant('button' as const),
      said: fc.record({ kind: fc.constant('level'), down: fc.boolean(), atUs: us }),
    }),
    fc.record({ part: fc.constant('printer' as const), said: fc.record({ kind: fc.constant('bytes'), bytes }) }),
    fc.record({
      part: fc.constant('printer' as const),
      said: fc.record({ kind: fc.constant('lost'), why: fc.string() }),
    }),
    fc.record({
      part: fc.constant('album' as const),
      said: fc.record({ kind: fc.constant('not-kept'), shot, why: fc.string() }),
    }),
    fc.record({
      part: fc.constant('darkroom' as const),
      said: bytes.map(data => ({
        kind: 'developed',
        shot: 3,
        dots: { widthDots: 8, heightDots: data.length, strideBytes: 1, data },
      })),
    }),
    fc.record({
      part: fc.constant('supply' as const),
      said: fc.record({
        kind: fc.constant('voltage'),
        volts: fc.double({ noNaN: true, noDefaultInfinity: true }),
        low: fc.boolean(),
      }),
    }),
  );

  it('comes out of a recording as it went in', () => {
    fc.assert(
      fc.property(fc.array(fc.tuple(fc.nat(1000), said), { maxLength: 30 }), inputs => {
        const lines: string[] = [];
        const recorder = createRecorder({
          header: headerOf({ config: smallConfig(), profile: smallProfile(), startedAtMs: 0, shutterSays: false }),
          write: line => lines.push(line),
        });
        let atUs = 0;
        for (const [waitUs, { part, said: one }] of inputs) {
          atUs += waitUs;
          recorder.sink(atUs, part, one);
        }
        const { items } = parse(lines.join(''));
        expect(items).toHaveLength(inputs.length + 1);
        atUs = 0;
        for (const [i, [waitUs, { part, said: one }]] of inputs.entries()) {
          const item = items[i + 1];
          if (item.kind !== 'input') throw new Error('no input');
          atUs += waitUs;
          const expected: Record<string, unknown> = { t: atUs, part, ...one };
          if ('bytes' in one) {
            expected.hex = Buffer.from(one.bytes).toString('hex');
            delete expected.bytes;
          }
          if ('dots' in one)
            Object.assign(expected, one.dots, { dots: Buffer.from(one.dots.data).toString('base64'), data: undefined });
          // JSON has no negative zero.
          expect(JSON.parse(JSON.stringify(item.entry))).toEqual(JSON.parse(JSON.stringify(expected)));
        }
      }),
      { numRuns: 200 },
    );
  });

  it('is refused in words', () => {
    expect(checkEntry({ t: 1, part: 'album', kind: 'marked', shot: 0, mark: 'printed' })).toBe(
      "album marked: 'shot' is less than 1",
    );
    expect(checkEntry({ t: 1, part: 'album', kind: 'marked', shot: 1, mark: 'torn' })).toBe(
      "album marked: 'mark' isn’t one of closing, printed",
    );
    expect(checkEntry({ t: 1, part: 'service', type: 'service.dance' })).toBe('service never says "service.dance"');
  });
});
