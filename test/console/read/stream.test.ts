import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { createVirtualClock } from '../../../sim/clock.ts';
import { createLog } from '../../../src/console/log.ts';
import { createConsoleParser, type Heard } from '../../../src/console/read/stream.ts';
import { type EventEntry, type EventName, type Log, vocabulary } from '../../../src/console/vocabulary.ts';

const parse = (text: string | Uint8Array, sizes: readonly number[] = []): Heard[] => {
  const bytes = typeof text === 'string' ? Buffer.from(text) : text;
  const parser = createConsoleParser();
  const heard: Heard[] = [];
  let at = 0;
  for (const size of sizes) {
    heard.push(...parser.push(bytes.subarray(at, at + size)));
    at += size;
  }
  heard.push(...parser.push(bytes.subarray(at)), ...parser.end());
  return heard;
};
const withoutLine = (heard: readonly Heard[]) => heard.map(({ line: _, endByte: __, ...rest }) => rest);

/** Lines of our log as the camera writes them. */
const written = (say: (log: Log) => void): string[] => {
  const lines: string[] = [];
  const clock = createVirtualClock();
  clock.runUntil(4_152_708);
  say(createLog({ clock, level: 'trace', destination: { write: line => lines.push(line) } }));
  return lines;
};
const [kept] = written(log => log('kept', { shot: 12, keepUs: 9601 }));
const [trouble] = written(log => log('album-trouble', { why: 'the card’s "full" [of] {pictures}\n again' }));

describe('a console', () => {
  it('reads lines of ours, of the kernel, of the service manager, and others', () => {
    expect(
      withoutLine(
        parse(
          `[    1.234567] usb 1-1: new device\r\n\x1b[0;32m[  OK  ]\x1b[0m Started camera.\r\n         Starting network...\r\n${kept}<3>[12345.000001][  T42] mmc0: error -110\nlogin: \r\n`,
        ),
      ),
    ).toEqual([
      { kind: 'kernel', atS: 1.234567, severity: null, text: 'usb 1-1: new device' },
      { kind: 'manager', state: 'OK', text: 'Started camera.' },
      { kind: 'manager', state: '', text: 'Starting network...' },
      { kind: 'own', record: JSON.parse(kept) },
      { kind: 'kernel', atS: 12345.000001, severity: 3, text: 'mmc0: error -110' },
      { kind: 'text', text: 'login: ' },
    ]);
  });

  it('reads a line of ours that a kernel line came into, wherever it did', () => {
    const theirs = '[   12.345678] usb 1-1: USB disconnect\r\n';
    for (const ours of [kept, trouble])
      for (let at = 0; at <= ours.length; at++) {
        const bytes = Buffer.from(ours);
        const heard = withoutLine(
          parse(Buffer.concat([bytes.subarray(0, at), Buffer.from(theirs), bytes.subarray(at)])),
        );
        expect(heard).toHaveLength(2);
        expect(heard).toContainEqual({ kind: 'own', record: JSON.parse(ours) });
        expect(heard).toContainEqual({
          kind: 'kernel',
          atS: 12.345678,
          severity: null,
          text: 'usb 1-1: USB disconnect',
        });
      }
  });

  it('reads what the kernel of the emulated board made of it', () => {
    // As it came out of its port: the first piece, many lines of the kernel, the rest with one more behind it, and only
    // then our own line feed.
    const kernel = (n: number) => `[   33.${752979 + n * 200}] noise ${n} of the kernel\r\n`;
    const between = Array.from({ length: 78 }, (_, i) => kernel(i + 1)).join('');
    const text = `{"level":"info",${kernel(0)}${between}"time":1795618673301,"mono":33675055,"event":"coil","shot":3,"pressToCoilUs":545734,"stroke":"second"}${kernel(79)}\r\n${kernel(80)}`;
    const heard = parse(text);
    expect(heard.map(one => (one.kind === 'kernel' ? one.text : one.kind)).filter(one => one !== 'own')).toEqual(
      Array.from({ length: 81 }, (_, n) => `noise ${n} of the kernel`),
    );
    expect(heard.filter(({ kind }) => kind === 'own')).toMatchObject([{ record: { event: 'coil', shot: 3 } }]);
  });

  it('reads a line of ours that was torn twice, outside of its numbers', () => {
    const one = '[   12.345678] usb 1-1: USB disconnect\r\n';
    const two = '[  OK  ] Started a thing.\r\n';
    const [first, second] = [kept.indexOf('"mono"'), kept.indexOf('"shot"')];
    const text = kept.slice(0, first) + one + kept.slice(first, second) + two + kept.slice(second);
    expect(withoutLine(parse(text))).toEqual([
      { kind: 'kernel', atS: 12.345678, severity: null, text: 'usb 1-1: USB disconnect' },
      { kind: 'manager', state: 'OK', text: 'Started a thing.' },
      { kind: 'own', record: JSON.parse(kept) },
    ]);
  });

  it('reads a kernel line that one of ours came into', () => {
    const theirs = '[   12.345678] usb 1-1: USB disconnect, device number 4';
    for (let at = 16; at < theirs.length; at++)
      expect(withoutLine(parse(`${theirs.slice(0, at)}${kept}${theirs.slice(at)}\r\n`))).toEqual([
        { kind: 'own', record: JSON.parse(kept) },
        { kind: 'kernel', atS: 12.345678, severity: null, text: 'usb 1-1: USB disconnect, device number 4' },
      ]);
  });

  it('finds ours behind a prompt, behind noise, and glued to the next', () => {
    const record = JSON.parse(kept);
    const glued = kept.trimEnd();
    expect(withoutLine(parse(`camera login: ${kept}`))).toEqual([
      { kind: 'text', text: 'camera login: ' },
      { kind: 'own', record },
    ]);
    expect(
      withoutLine(parse(Buffer.concat([Buffer.from([0, 0xff, 0xfe]), Buffer.from(kept)]))).filter(
        ({ kind }) => kind === 'own',
      ),
    ).toHaveLength(1);
    expect(withoutLine(parse(`${glued}${glued}${kept}`))).toEqual([
      { kind: 'own', record },
      { kind: 'own', record },
      { kind: 'own', record },
    ]);
  });

  it('passes on what noise has spoilt, and reads nothing into it', () => {
    const bytes = Buffer.from(kept);
    for (let at = 0; at < bytes.length - 1; at++) {
      const spoilt = Buffer.from(bytes);
      spoilt[at] = 0xf8;
      const heard = parse(Buffer.concat([spoilt, Buffer.from(kept)]));
      expect(heard.filter(({ kind }) => kind === 'own')).toHaveLength(1);
      expect(heard.filter(({ kind }) => kind !== 'own').length).toBeGreaterThan(0);
    }
  });

  it('passes on a line that the power cut, and reads on', () => {
    const heard = withoutLine(parse(`${kept.slice(0, 40)}[    0.000000] Linux version 6.1\n${kept}`));
    expect(heard).toEqual([
      { kind: 'kernel', atS: 0, severity: null, text: 'Linux version 6.1' },
      { kind: 'damaged', text: kept.slice(0, 40) },
      { kind: 'own', record: JSON.parse(kept) },
    ]);
  });

  it('leaves a tear alone that can be read in two ways', () => {
    // Somebody's text without a beginning that could be known, inside a string of ours.
    const at = trouble.indexOf('full') + 2;
    const heard = withoutLine(parse(`${trouble.slice(0, at)}who is there?\n${trouble.slice(at)}${kept}`));
    expect(heard.filter(({ kind }) => kind === 'own')).toEqual([{ kind: 'own', record: JSON.parse(kept) }]);
    expect(JSON.stringify(heard)).toContain('who is there?');
  });

  it('tells a line of another version from a damaged one', () => {
    const newer = '{"level":"info","time":1,"mono":2,"event":"pirouette","turns":3}';
    expect(withoutLine(parse(`${newer}\n`))).toEqual([{ kind: 'unknown', text: newer }]);
    const more = '{"level":"info","time":1,"mono":2,"event":"kept","shot":3,"keepUs":4,"twice":true}';
    expect(withoutLine(parse(`${more}\n`))).toEqual([{ kind: 'unknown', text: more }]);
  });

  it('waits for the other half of a line behind hundreds of the kernel’s, and only so long', () => {
    const few = Array.from({ length: 400 }, (_, i) => `[  100.${String(i).padStart(6, '0')}] line ${i}\n`);
    const text = `${kept.slice(0, 50)}${few.join('')}${kept.slice(50)}`;
    expect(withoutLine(parse(text)).at(-1)).toEqual({ kind: 'own', record: JSON.parse(kept) });
    const others = Array.from({ length: 5000 }, (_, i) => `[  100.${String(i).padStart(6, '0')}] line ${i}\n`);
    const heard = withoutLine(parse(`${kept.slice(0, 50)}${others.join('')}${kept.slice(50)}`));
    expect(heard.filter(({ kind }) => kind === 'own')).toEqual([]);
    expect(heard.filter(({ kind }) => kind === 'kernel')).toHaveLength(5000);
    expect(heard.filter(({ kind }) => kind === 'damaged')).toHaveLength(1);
  });
});

const word = fc.string({ maxLength: 30 });
const recordLine = fc
  .constantFrom(...(Object.keys(vocabulary) as EventName[]))
  .chain(event =>
    fc
      .record(
        Object.fromEntries(
          Object.entries((vocabulary[event] as EventEntry).fields).map(([name, { type }]) => [
            name,
            type === 'number' ? fc.integer({ min: 0, max: 1e9 }) : type === 'boolean' ? fc.boolean() : word,
          ]),
        ) as Record<string, fc.Arbitrary<unknown>>,
      )
      .map(fields => written(log => log(event, fields as never))[0]),
  );
const kernelLine = fc
  .tuple(fc.integer({ min: 0, max: 99_999_999_999 }), fc.stringMatching(/^[a-z][ -z]{0,40}[a-z]$/))
  .map(
    ([us, text]) => `[${String(Math.floor(us / 1e6)).padStart(5)}.${String(us % 1e6).padStart(6, '0')}] ${text}\r\n`,
  );
const managerLine = fc
  .tuple(fc.constantFrom('[  OK  ] ', '[FAILED] ', '         Starting '), fc.stringMatching(/^[A-Z][a-z ]{1,30}[a-z]$/))
  .map(([head, text]) => `${head}${text}\r\n`);
const otherLine = fc.oneof(kernelLine, managerLine);

/** Somewhere in what is there: every place as likely as any other. */
const share = fc.integer({ min: 0, max: 999_999 }).map(n => n / 1e6);

const sorted = (heard: readonly Heard[]) =>
  withoutLine(heard)
    .map(one => JSON.stringify(one))
    .sort();

describe('any console', () => {
  it('is read the same, however its bytes come in', () => {
    fc.assert(
      fc.property(
        fc.array(
          fc.oneof(
            recordLine,
            otherLine,
            fc.string().map(text => `${text}\n`),
          ),
          { maxLength: 12 },
        ),
        fc.array(fc.integer({ min: 0, max: 60 }), { maxLength: 60 }),
        (lines, sizes) => {
          expect(parse(lines.join(''), sizes)).toEqual(parse(lines.join('')));
        },
      ),
      { numRuns: 300 },
    );
  });

  it('is read the same when others come into each line of ours at one place', () => {
    const torn = fc.tuple(recordLine, share, fc.array(otherLine, { maxLength: 4 }));
    fc.assert(
      fc.property(fc.array(torn, { minLength: 1, maxLength: 6 }), lines => {
        const pieces = lines.flatMap(([ours, place, others]) => {
          const bytes = Buffer.from(ours);
          const at = Math.floor(place * bytes.length);
          return [bytes.subarray(0, at), Buffer.from(others.join('')), bytes.subarray(at)];
        });
        const apart = lines.flatMap(([ours, , others]) => [ours, ...others]).join('');
        expect(sorted(parse(Buffer.concat(pieces)))).toEqual(sorted(parse(apart)));
      }),
      { numRuns: 1000 },
    );
  });

  it('gives no record that wasn’t written and loses no text, wherever others come in', () => {
    fc.assert(
      fc.property(
        fc.array(recordLine, { minLength: 1, maxLength: 5 }),
        fc.array(fc.tuple(otherLine, share), { maxLength: 12 }),
        (ours, others) => {
          const bytes = Buffer.from(ours.join(''));
          const places = others
            .map(([line, place]) => ({ line, at: Math.floor(place * bytes.length) }))
            .sort((a, b) => a.at - b.at);
          const pieces: Uint8Array[] = [];
          let from = 0;
          for (const { line, at } of places) {
            pieces.push(bytes.subarray(from, at), Buffer.from(line));
            from = at;
          }
          const heard = parse(Buffer.concat([...pieces, bytes.subarray(from)]));
          const truth = ours.map(line => JSON.stringify(JSON.parse(line)));
          for (const one of heard)
            if (one.kind === 'own') {
              const at = truth.indexOf(JSON.stringify(one.record));
              expect(at).toBeGreaterThanOrEqual(0);
              truth.splice(at, 1);
            }
          const text = heard.map(one => ('text' in one ? one.text : '')).join('\n');
          for (const [line] of others) {
            const words = withoutLine(parse(line))[0];
            if ('text' in words) expect(text).toContain(words.text);
          }
        },
      ),
      { numRuns: 1000 },
    );
  });

  it('gives no record that wasn’t written, whatever noise comes into it', () => {
    // Bytes that text never has: controls, and those that no UTF-8 has (RFC 3629). Noise that happens to be a digit
    // inside a number can't be told from one.
    const noise = fc.oneof(fc.integer({ min: 0, max: 0x1f }), fc.integer({ min: 0xf8, max: 0xff }));
    fc.assert(
      fc.property(
        fc.array(recordLine, { minLength: 1, maxLength: 5 }),
        fc.array(fc.tuple(fc.array(noise, { minLength: 1, maxLength: 9 }), share), {
          maxLength: 6,
        }),
        (ours, spoils) => {
          const truth = new Set(ours.map(line => JSON.stringify(JSON.parse(line))));
          let bytes = Buffer.from(ours.join(''));
          for (const [spoil, place] of spoils) {
            const at = Math.floor(place * bytes.length);
            bytes = Buffer.concat([bytes.subarray(0, at), Buffer.from(spoil), bytes.subarray(at)]);
          }
          for (const one of parse(bytes)) if (one.kind === 'own') expect(truth).toContain(JSON.stringify(one.record));
        },
      ),
      { numRuns: 1000 },
    );
  });
});
