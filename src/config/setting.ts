import * as z from 'zod/mini';

/** What every setting carries beside its type: one declaration gives range, default, unit, help and the JSON Schema. */
export interface SettingHelp {
  help: string;
  /** Symbol of the unit, where the value has one. */
  unit?: string;
}

const described = <T extends z.ZodMiniType>(type: T, { help, unit }: SettingHelp): T => {
  z.globalRegistry.add(type, { description: unit ? `${help} [${unit}]` : help });
  return type;
};

/** A number within a range, end points included. */
export const number = (fallback: number, from: number, to: number, help: string, unit?: string) =>
  described(z._default(z.number().check(z.minimum(from), z.maximum(to)), fallback), { help, unit });

/** A whole number within a range, end points included. */
export const whole = (fallback: number, from: number, to: number, help: string, unit?: string) =>
  described(z._default(z.int().check(z.minimum(from), z.maximum(to)), fallback), { help, unit });

export const choice = <const T extends readonly [string, ...string[]]>(allowed: T, fallback: T[number], help: string) =>
  described(z._default(z.enum(allowed), fallback as never), { help });

export const text = (fallback: string, help: string, longest = 200) =>
  described(z._default(z.string().check(z.maxLength(longest)), fallback), { help });

export const flag = (fallback: boolean, help: string) => described(z._default(z.boolean(), fallback), { help });

/** A group of settings that may be left out as a whole: its defaults then hold. Unknown keys are refused. */
export const group = <T extends z.core.$ZodShape>(shape: T, help: string) => {
  const object = z.strictObject(shape);
  return described(z.prefault(object, {} as never), { help });
};
