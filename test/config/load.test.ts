import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import fc from 'fast-check';
import { afterAll, describe, expect, it } from 'vitest';
import * as z from 'zod/mini';
import { inspectConfig, loadConfig } from '../../src/config/load.ts';
import { defaultProfile, profileSchema } from '../../src/config/profile.ts';
import { configSchema, defaultConfig } from '../../src/config/schema.ts';
import { faultLine, inspectSettings, parseSettings } from '../../src/config/settings.ts';
import { isFault } from '../../src/parts/fault.ts';

const folder = mkdtempSync(`${tmpdir()}/slipshutter-config-`);
afterAll(() => rmSync(folder, { recursive: true }));

const lines = (text: string) => inspectConfig(text).faults.map(faultLine);
const thrown = (run: () => unknown): { message: string; code: string; exitCode: number } => {
  try {
    run();
  } catch (error) {
    if (isFault(error)) return { message: error.message, code: error.code, exitCode: error.exitCode };
    throw error;
  }
  throw new Error('nothing was thrown');
};

describe('loading a configuration', () => {
  it('without a file every setting is at its default', () => {
    expect(loadConfig(null)).toEqual({ config: defaultConfig(), text: '', path: null });
  });

  it('reads comments, trailing commas and a byte-order mark, and keeps the text', () => {
    const text = '\uFEFF// the hall camera\n{ "button": { "holdMs": 900, /* short */ }, }\n';
    const path = `${folder}/good.json`;
    writeFileSync(path, text);
    const loaded = loadConfig(path);
    expect(loaded.config).toEqual({ ...defaultConfig(), button: { ...defaultConfig().button, holdMs: 900 } });
    expect(loaded.path).toBe(path);
    expect(loaded.text).toBe(text);
  });

  it('what is at odds is listed with what is wrong in itself, and nothing twice', () => {
    expect(
      lines(`{
  "buton": {},
  "button": { "line": 17 },
  "shutter": { "line": 17, "pulseMs": 300, "longestPulseMs": 50 },
  "motor": { "inLine": 5, "outLine": 5 },
  "printer": { "rollCoreMm": 30, "rollOuterMm": 20 }
}`),
    ).toEqual([
      "line 2, buton: there is no such setting; did you mean 'button'?",
      'line 4, shutter.pulseMs: is 300; allowed: a number from 2 to 200 ms (Coil on for a click)',
      'line 4, shutter.line: is 17, and so is button.line; each part needs a line of its own',
      'line 5, motor.outLine: is 5, and so is motor.inLine; each part needs a line of its own',
      'line 6, printer.rollCoreMm: is 30 mm, not less than printer.rollOuterMm of 20 mm; measure the core’s outer diameter',
    ]);
    // The limit is wrong itself: nothing is held against its default.
    expect(lines('{ "shutter": { "pulseMs": 100, "longestPulseMs": 9000 } }')).toHaveLength(1);
    // A file that can't be read to its end says nothing of what it lacks.
    expect(lines('{ "shutter": { "line": 17 }, ')).toHaveLength(1);
  });

  it('lists every fault at once: file, line, name, what is allowed, what was meant', () => {
    const path = `${folder}/bad.json`;
    writeFileSync(
      path,
      `{
  "buton": {},
  "shutter": {
    "pulseMs": 500,
    "longestPulsMs": 60
  },
  "webcam": { "format": "MJEPG" },
  "printer": { "pulseMs": 3 }
}`,
    );
    const fault = thrown(() => loadConfig(path));
    expect(fault.code).toBe('config');
    expect(fault.exitCode).toBe(2);
    expect(fault.message.split('\n')).toEqual([
      `${path} has 5 faults:`,
      "  line 2, buton: there is no such setting; did you mean 'button'?",
      '  line 4, shutter.pulseMs: is 500; allowed: a number from 2 to 200 ms (Coil on for a click)',
      "  line 5, shutter.longestPulsMs: there is no such setting; did you mean 'longestPulseMs'?",
      '  line 7, webcam.format: is "MJEPG"; allowed: "auto", "YUYV", "GREY", "MJPEG"; did you mean "MJPEG"? (Pixel format)',
      '  line 8, printer.pulseMs: there is no such setting; there is shutter.pulseMs',
    ]);
  });

  it('says what kind of value is missing, for each kind', () => {
    expect(lines('{"button": []}')).toEqual(['line 1, button: is []; allowed: a group { … } (The shutter button)']);
    expect(lines('{"button": {"activeLow": 1, "line": -1}}')).toEqual([
      expect.stringContaining('allowed: a whole number from 0 to 1023, or text of at most 32 characters, or null'),
      'line 1, button.activeLow: is 1; allowed: true or false (Pressed pulls the line to ground)',
    ]);
    expect(lines('{"webcam": {"gain": "high"}}')[0]).toContain('allowed: a number, or null');
    expect(lines('{"camera": {"mark": "slip"}}')[0]).toContain('text of the form ^[A-Z0-9]{1,4}$');
    expect(lines(`{"picture": {"looks": {"${'x'.repeat(41)}": {}}}}`)[0]).toContain(
      'names here are text of at most 40 characters',
    );
    expect(lines('[]')).toEqual(['line 1: is []; allowed: a group { … }']);
    expect(lines('{"printer": {"baud": 9600.5}}')[0]).toContain('a whole number from 1200 to 4000000 Bd');
  });

  it('says what is wrong with the text itself, one fault a line', () => {
    expect(lines('')).toEqual([
      'line 1: holds no settings; the least that can stand there is {}; every setting has a default',
    ]);
    expect(lines('{\n "button": { "holdMs": 900 }\n "queue": {}\n}')).toEqual([
      `line 3: at '"queue": {}': a comma is missing before this`,
    ]);
    expect(lines('{ "queue": { "longest": 1 }')).toEqual(['line 1: a closing } is missing']);
    expect(lines('{ queue: 1 }')[0]).toContain('text stands in double quotes');
    expect(lines('{ "camera": {"name": "a\tb"} }')[0]).toContain('control characters');
  });

  it('settings that contradict each other are faults with a line of their own', () => {
    expect(lines('{\n"shutter": {\n"pulseMs": 100 },\n"motor": {"inLine": null, "outLine": 17 } }')).toEqual([
      expect.stringMatching(/^line 3, shutter\.pulseMs: is 100 ms, longer than the hard limit/),
      'line 4, motor.outLine: is 17, and so is button.line; each part needs a line of its own',
      expect.stringMatching(/^line 4, motor\.inLine: is null while the other side/),
    ]);
    expect(lines('{"printer":{"rollCoreMm":50},"supply":{"emptyVolts":9}}')).toHaveLength(2);
  });

  it('a LED in place of the lamp’s line leaves that line free', () => {
    expect(lines('{"lamp": {"led": "ACT", "line": 17}}')).toEqual([]);
  });

  it('no name works a trick on prototypes', () => {
    const text =
      '{"__proto__": {"polluted": 1}, "picture": {"looks": {"__proto__": {"levels": 0}, "constructor": {}}}}';
    const { value, faults } = inspectConfig(text);
    expect(value).toBeNull();
    expect(faults.map(faultLine)).toEqual([
      'line 1, __proto__: can’t be the name of a setting',
      'line 1, picture.looks.__proto__: can’t be the name of a setting',
    ]);
    expect(({} as { polluted?: number }).polluted).toBeUndefined();
  });

  it('the same name twice is a fault: one of the two would win in silence', () => {
    expect(lines('{"queue": {"longest": 1,\n"longest": 2}}')).toEqual([
      'line 2, queue.longest: stands here for the second time; leave one of the two',
    ]);
  });

  it('sizes and depths are bounded', () => {
    expect(lines(`{"camera": {"name": "${'a'.repeat(1_000_001)}"}}`)[0]).toContain('at most 1000000');
    expect(lines('['.repeat(900_000))[0]).toContain('nested deeper than 32');
  });

  it('a file that can’t be read says why', () => {
    expect(thrown(() => loadConfig(`${folder}/none.json`)).message).toContain('there is no such file');
    expect(thrown(() => loadConfig(folder)).message).toContain('it is a folder');
    expect(thrown(() => loadConfig(folder)).exitCode).toBe(2);
    writeFileSync(`${folder}/huge.json`, Buffer.alloc(4_000_001));
    expect(thrown(() => loadConfig(`${folder}/huge.json`)).message).toContain('larger than any settings file');
  });

  it('any text gives a value or faults, never a throw', () => {
    const piece = fc.constantFrom(
      '{',
      '}',
      '[',
      ']',
      ',',
      ':',
      '"button"',
      '"line"',
      '1',
      'null',
      '/*',
      '//',
      '\n',
      '\\',
    );
    fc.assert(
      fc.property(
        fc.oneof(
          fc.string(),
          fc.array(piece, { maxLength: 30 }).map(parts => parts.join('')),
        ),
        text => {
          const { value, faults } = inspectConfig(text);
          expect(value === null).toBe(faults.length > 0);
        },
      ),
      { seed: 5, numRuns: 2000 },
    );
  });

  it('every default, written out, is read back the same', () => {
    const config = defaultConfig();
    expect(inspectConfig(JSON.stringify(config)).value).toEqual(config);
    expect(inspectSettings(JSON.stringify(defaultProfile()), profileSchema).value).toEqual(defaultProfile());
  });
});

describe('settings of any schema', () => {
  const schema = z.strictObject({
    steps: z.array(z.strictObject({ at: z.number(), do: z.enum(['press', 'wait']) })).check(z.maxLength(3)),
    curve: z.optional(z.array(z.tuple([z.number(), z.number()]))),
    seed: z._default(z.number().check(z.minimum(0)), 1),
    most: z._default(z.number().check(z.maximum(9)), 1),
    kind: z.optional(z.literal('party')),
  });

  it('finds places within lists', () => {
    const text = '{"steps": [\n{"at": 1, "do": "press"},\n{"at": "x", "do": "pres"}], "seed": -1, "most": 10}';
    const { message, code } = thrown(() => parseSettings(text, schema, 'p.json', 'script'));
    expect(code).toBe('script');
    expect(message.split('\n')).toEqual([
      'p.json has 4 faults:',
      '  line 3, steps[1].at: is "x"; allowed: a number',
      '  line 3, steps[1].do: is "pres"; allowed: "press", "wait"; did you mean "press"?',
      '  line 3, seed: is -1; allowed: a number of at least 0',
      '  line 3, most: is 10; allowed: a number of at most 9',
    ]);
  });

  it('says what is missing, and reads what is right', () => {
    expect(thrown(() => parseSettings('{"kind": "feast", "curve": [[0, "x"]]}', schema, 'p.json')).message).toBe(
      [
        'p.json has 3 faults:',
        '  line 1, steps: is missing; allowed: a list [ … ] of at most 3',
        '  line 1, curve[0][1]: is "x"; allowed: a number',
        '  line 1, kind: is "feast"; allowed: "party"',
      ].join('\n'),
    );
    expect(parseSettings('{"steps": []}', schema, 'p.json')).toEqual({ steps: [], seed: 1, most: 1 });
    expect(thrown(() => parseSettings('{"steps": [], "sead": 2}', schema, 'p.json')).message).toBe(
      "p.json, line 1, sead: there is no such setting; did you mean 'seed'?",
    );
  });

  it('the schema of the configuration has a help for every setting', () => {
    const missing: string[] = [];
    const walk = (one: { properties?: Record<string, unknown>; description?: string }, path: string) => {
      if (path !== '' && !path.endsWith('$schema') && !one.description) missing.push(path);
      for (const [name, inside] of Object.entries(one.properties ?? {})) walk(inside as never, `${path}.${name}`);
    };
    walk(z.toJSONSchema(configSchema, { io: 'input' }) as never, '');
    walk(z.toJSONSchema(profileSchema, { io: 'input' }) as never, '');
    expect(missing).toEqual([]);
  });
});
