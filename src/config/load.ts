import { existsSync } from 'node:fs';
import { readNamedFile } from '../named-file.ts';
import { boardConfigPath } from './board-path.ts';
import { contradictions } from './consistent.ts';
import { type Config, configSchema, defaultConfig } from './schema.ts';
import { type Inspected, inspectSettings, settingName, settingsFault } from './settings.ts';

export interface Loaded {
  config: Config;
  /** As it stands in the file, for the hash in recordings; '' without a file. */
  text: string;
  path: string | null;
}

export { boardConfigPath };

/** The file that was named, or that of the service where there is one, or none. */
export const findConfigPath = (named: string | undefined): string | null =>
  named ?? (existsSync(boardConfigPath) ? boardConfigPath : null);

/** Text of a settings file. Throws a `Fault` that says why it can't be read. */
export const readSettingsFile = (path: string): string =>
  readNamedFile(path, {
    code: 'config',
    largestBytes: 4_000_000,
    tooLarge: 'any settings file',
    mend: 'check the path',
  }).toString('utf8');

/** Every fault of a configuration: of form, of range, and settings that contradict each other. */
export const inspectConfig = (text: string): Inspected<typeof configSchema> => {
  const inspected = inspectSettings(text, configSchema);
  const settings = inspected.value ?? inspected.rest;
  if (settings === null) return inspected;
  // What is wrong in itself is said once, not again as at odds with something else.
  const wrong = new Set(inspected.faults.map(({ path }) => settingName(path)));
  const atOdds = contradictions(settings)
    .filter(({ path, against }) => !wrong.has(settingName(path)) && !wrong.has(against))
    .map(({ path, what, mend }) => ({ line: inspected.lineOf(path), path, what, mend }));
  const faults = [...inspected.faults, ...atOdds].sort((a, b) => a.line - b.line);
  const whole = faults.length === 0;
  return { ...inspected, value: whole ? inspected.value : null, rest: whole ? null : settings, faults };
};

/** The configuration in a file, or every default. Throws a `Fault` that lists all that is wrong. */
export const loadConfig = (path: string | null): Loaded => {
  if (path === null) return { config: defaultConfig(), text: '', path };
  const text = readSettingsFile(path);
  const { value, faults } = inspectConfig(text);
  if (value === null) throw settingsFault(path, faults);
  return { config: value, text, path };
};
