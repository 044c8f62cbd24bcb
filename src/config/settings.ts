import type * as z from 'zod/mini';
import { nearest } from '../cli/nearest.ts';
import { Fault } from '../parts/fault.ts';
import { allowedWords, helpOf, type JsonSchema, jsonSchema, namesAt, placesOf, schemaAt } from './allowed.ts';
import { type Parsed, parseText, type SettingFault } from './parse.ts';

type Path = readonly (string | number)[];
type Issue = z.core.$ZodIssue;

const shown = (value: unknown): string => {
  const words = JSON.stringify(value) ?? 'nothing';
  return words.length > 40 ? `${words.slice(0, 37)}…` : words;
};

const valueAt = (value: unknown, path: Path): unknown => {
  let at = value;
  for (const name of path) at = (at as Record<string | number, unknown> | null | undefined)?.[name];
  return at;
};

/** What a name that isn't known was probably meant to be: a neighbour, or the same name in another group. */
const guess = (schema: JsonSchema, group: Path, name: string): string => {
  const known = namesAt(schema, group);
  const near = nearest(name, known);
  if (near) return `did you mean '${near}'?`;
  const [elsewhere] = placesOf(schema, name);
  if (elsewhere) return `there is ${elsewhere.join('.')}`;
  return known.length === 0 ? '' : `known here: ${known.filter(one => one !== '$schema').join(', ')}`;
};

const unknownName = (schema: JsonSchema, parsed: Parsed, group: Path, name: string): SettingFault => ({
  line: parsed.lineOf([...group, name]),
  path: [...group, name],
  what: 'there is no such setting',
  mend: guess(schema, group, name),
});

const misfit = (schema: JsonSchema, parsed: Parsed, path: Path): SettingFault => {
  const setting = schemaAt(schema, path);
  const value = valueAt(parsed.value, path);
  const allowed = setting ? allowedWords(setting) : '';
  const help = setting ? helpOf(setting) : '';
  const near = typeof value === 'string' && setting?.enum ? nearest(value, setting.enum.map(String)) : null;
  return {
    line: parsed.lineOf(path),
    path,
    what: value === undefined ? 'is missing' : `is ${shown(value)}`,
    mend: `allowed: ${allowed}${near ? `; did you mean ${JSON.stringify(near)}?` : ''}${help ? ` (${help})` : ''}`,
  };
};

const faultsOf = (schema: JsonSchema, parsed: Parsed, issue: Issue): SettingFault[] => {
  const path = issue.path.filter(name => typeof name !== 'symbol');
  if (issue.code === 'unrecognized_keys') return issue.keys.map(name => unknownName(schema, parsed, path, name));
  if (issue.code === 'invalid_key') {
    const names = schemaAt(schema, path.slice(0, -1))?.propertyNames;
    const mend = names ? `names here are ${allowedWords(names)}` : '';
    return [{ line: parsed.lineOf(path), path, what: 'can’t be a name here', mend }];
  }
  return issue.code === 'custom'
    ? [{ line: parsed.lineOf(path), path, what: issue.message, mend: '' }]
    : [misfit(schema, parsed, path)];
};

export const settingName = (path: Path): string =>
  path.map((name, index) => (typeof name === 'number' ? `[${name}]` : index === 0 ? name : `.${name}`)).join('');

/** One line a fault: `line 4, shutter.pulseMs: is 500; allowed: a number from 2 to 200 ms (Coil on for a click)`. */
export const faultLine = ({ line, path, what, mend }: SettingFault): string =>
  `line ${line}${path.length > 0 ? `, ${settingName(path)}` : ''}: ${what}${mend ? `; ${mend}` : ''}`;

export const settingsFault = (
  fileName: string,
  faults: readonly SettingFault[],
  code: 'config' | 'script' = 'config',
) =>
  new Fault(
    code,
    faults.length === 1
      ? `${fileName}, ${faultLine(faults[0])}`
      : `${fileName} has ${faults.length} faults:\n${faults.map(one => `  ${faultLine(one)}`).join('\n')}`,
    '',
  );

export interface Inspected<T extends z.ZodMiniType> {
  /** Null when there are faults. */
  value: z.infer<T> | null;
  faults: SettingFault[];
  /** Where there are faults: what is left without the settings that they name, each of those at its default; else null. */
  rest: z.infer<T> | null;
  lineOf: Parsed['lineOf'];
}

const without = (value: unknown, faults: readonly SettingFault[]): unknown => {
  const copy = structuredClone(value);
  for (const { path } of faults) {
    const group = valueAt(copy, path.slice(0, -1));
    const name = path.at(-1);
    if (name !== undefined && typeof group === 'object' && group !== null)
      delete (group as Record<string | number, unknown>)[name];
  }
  return copy;
};

/** A settings file against its schema: all its faults, in the order of lines. */
export const inspectSettings = <T extends z.ZodMiniType>(text: string, schema: T): Inspected<T> => {
  const parsed = parseText(text);
  const faults = [...parsed.faults];
  const result = parsed.value === undefined ? null : schema.safeParse(parsed.value);
  if (result?.error) {
    const words = jsonSchema(schema);
    faults.push(...result.error.issues.flatMap(issue => faultsOf(words, parsed, issue)));
  }
  faults.sort((a, b) => a.line - b.line);
  if (faults.length === 0)
    return { value: result?.success ? result.data : null, faults, rest: null, lineOf: parsed.lineOf };
  // A fault of form has no setting that could be left out.
  const legible = parsed.value !== undefined && faults.every(({ path }) => path.length > 0);
  const rest = legible ? schema.safeParse(without(parsed.value, faults)) : null;
  return { value: null, faults, rest: rest?.success ? rest.data : null, lineOf: parsed.lineOf };
};

/**
 * The settings in a text of JSON with comments, defaults filled in. Throws a `Fault` that lists every fault with line,
 * name, what is allowed, and what was probably meant.
 */
export const parseSettings = <T extends z.ZodMiniType>(
  text: string,
  schema: T,
  fileName: string,
  code: 'config' | 'script' = 'config',
): z.infer<T> => {
  const { value, faults } = inspectSettings(text, schema);
  if (value === null) throw settingsFault(fileName, faults, code);
  return value;
};
