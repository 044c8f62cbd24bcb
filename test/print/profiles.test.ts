import { mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { loadProfile } from '../../src/config/load-profile.ts';
import { defaultProfile, type Profile, profileSchema } from '../../src/config/profile.ts';
import { isFault } from '../../src/parts/fault.ts';
import { builtInProfiles } from '../../src/print/profiles.ts';

const folder = new URL('../../config/profiles/', import.meta.url).pathname;
const desk = mkdtempSync(join(tmpdir(), 'profiles-'));
afterAll(() => rmSync(desk, { recursive: true }));

const messageOf = (act: () => unknown): string => {
  try {
    act();
  } catch (error) {
    if (isFault(error)) return `${error.code}: ${error.message} (${error.mend})`;
    throw error;
  }
  return 'nothing was wrong';
};

describe('built-in profiles', () => {
  const files = readdirSync(folder).filter(file => file.endsWith('.json'));

  it('are the files of the folder, all of them', () => {
    expect(Object.keys(builtInProfiles)).toEqual(files.map(file => file.replace('.json', '')));
  });

  it.each(files)('%s names its schema and class, has no comments and every setting', file => {
    const text = readFileSync(folder + file, 'utf8');
    const value = JSON.parse(text) as Profile;
    expect(value.$schema).toBe('../profile.schema.json');
    expect(value.title.length).toBeGreaterThan(10);
    const { $schema, ...settings } = value;
    expect(Object.keys(profileSchema.parse(value)).filter(key => !(key in value))).toEqual(['toneCurve']);
    for (const group of ['commands', 'head', 'motor', 'quirks'] as const)
      expect(Object.keys(settings[group])).toEqual(Object.keys(defaultProfile()[group]));
  });

  it('has the class that a configuration starts from equal to what the schema starts from', () => {
    // The daemon without a profile file and the file of the same name must print the same.
    const { $schema, title, commands, ...rest } = loadProfile('panel-58mm');
    const start = defaultProfile();
    expect({ ...start, title, commands }).toEqual({ ...rest, title, commands });
    expect(commands).toEqual({ ...start.commands, density: 'panel', sleep: true });
  });
});

describe('loading a profile', () => {
  it('takes a file beside the configuration', () => {
    writeFileSync(join(desk, 'mine.json'), '{ // measured\n "widthDots": 432, "quirks": { "powerUpMs": 900 } }');
    const profile = loadProfile('./mine.json', join(desk, 'slipshutter.json'));
    expect(profile.widthDots).toBe(432);
    expect(profile.quirks.powerUpMs).toBe(900);
    expect(loadProfile(join(desk, 'mine.json'))).toEqual(profile);
  });

  it('says what it knows, or what was meant, when a name is wrong', () => {
    expect(messageOf(() => loadProfile('panel-58'))).toContain("did you mean 'panel-58mm'?");
    expect(messageOf(() => loadProfile('laser'))).toMatch(/^config: .*laser.*panel-58mm, panel-80mm.*path to a file/);
    expect(messageOf(() => loadProfile('constructor'))).toContain('there is no profile');
  });

  it('says where a file is missing or wrong', () => {
    expect(messageOf(() => loadProfile('none.json', join(desk, 'c.json')))).toContain(`${desk}/none.json`);
    writeFileSync(join(desk, 'bad.json'), '{\n "widthDots": 5000,\n "wdith": 3 }');
    const message = messageOf(() => loadProfile('bad.json', join(desk, 'c.json')));
    expect(message).toMatch(/^config: /);
    expect(message).toContain('widthDots');
    expect(message).toContain('1280');
    expect(message).toContain('wdith');
  });
});
