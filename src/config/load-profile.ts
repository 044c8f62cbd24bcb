import { dirname, resolve } from 'node:path';
import { nearest } from '../cli/nearest.ts';
import { Fault } from '../parts/fault.ts';
import { builtInProfiles } from '../print/profiles.ts';
import { readSettingsFile } from './load.ts';
import { type Profile, profileSchema } from './profile.ts';
import { inspectSettings, settingsFault } from './settings.ts';

/**
 * The printer profile of this name: a built-in class, or a file, whose path counts from the configuration's folder.
 * Throws a `Fault` that says what is wrong with the name or the file.
 * @param configPath Where the configuration came from; null: paths count from the current folder.
 */
export const loadProfile = (name: string, configPath: string | null = null): Profile => {
  if (Object.hasOwn(builtInProfiles, name)) return profileSchema.parse(builtInProfiles[name]);
  if (!/[/\\]|\.json$/i.test(name)) {
    const known = Object.keys(builtInProfiles);
    const near = nearest(name, known);
    const mend = near ? `did you mean '${near}'?` : `there are ${known.join(', ')}; anything else is a path to a file`;
    throw new Fault('config', `printer.profile: there is no profile called ${JSON.stringify(name)}`, mend);
  }
  const path = configPath === null ? name : resolve(dirname(configPath), name);
  const { value, faults } = inspectSettings(readSettingsFile(path), profileSchema);
  if (value === null) throw settingsFault(path, faults);
  return value;
};
