import * as z from 'zod/mini';

/** The part of JSON Schema that our settings use. */
export interface JsonSchema {
  type?: string | readonly string[];
  enum?: readonly (string | number)[];
  const?: unknown;
  default?: unknown;
  description?: string;
  minimum?: number;
  maximum?: number;
  maxLength?: number;
  minLength?: number;
  pattern?: string;
  minItems?: number;
  maxItems?: number;
  anyOf?: readonly JsonSchema[];
  oneOf?: readonly JsonSchema[];
  items?: JsonSchema;
  prefixItems?: readonly JsonSchema[];
  properties?: Record<string, JsonSchema>;
  propertyNames?: JsonSchema;
  additionalProperties?: JsonSchema | boolean;
}

/** JSON Schema of what a person may write: settings with a default may be left out. */
export const jsonSchema = (schema: z.core.$ZodType): JsonSchema =>
  z.toJSONSchema(schema, { io: 'input', unrepresentable: 'any' }) as JsonSchema;

const choices = (schema: JsonSchema): readonly JsonSchema[] => {
  if (Array.isArray(schema.type)) return schema.type.map((type: string) => ({ ...schema, type }));
  return (schema.anyOf ?? schema.oneOf ?? []).flatMap(one => {
    const deeper = choices(one);
    return deeper.length > 0 ? deeper : [one];
  });
};

const child = (schema: JsonSchema, name: PropertyKey): JsonSchema | null => {
  for (const one of [schema, ...choices(schema)]) {
    const found = typeof name === 'number' ? (one.prefixItems?.[name] ?? one.items) : one.properties?.[String(name)];
    if (found) return found;
    if (typeof one.additionalProperties === 'object' && typeof name === 'string') return one.additionalProperties;
  }
  return null;
};

/** The schema of the setting at this path, or null where there is none. */
export const schemaAt = (schema: JsonSchema, path: readonly PropertyKey[]): JsonSchema | null => {
  let at: JsonSchema | null = schema;
  for (const name of path) at = at && child(at, name);
  return at;
};

/** Names that may stand in the group at this path. */
export const namesAt = (schema: JsonSchema, path: readonly PropertyKey[]): string[] => {
  const at = schemaAt(schema, path);
  return at ? [at, ...choices(at)].flatMap(one => Object.keys(one.properties ?? {})) : [];
};

/** Every place, as a path, at which a setting of this name exists. */
export const placesOf = (schema: JsonSchema, name: string): string[][] => {
  const places: string[][] = [];
  const walk = (at: JsonSchema, path: string[]) => {
    for (const [key, inside] of Object.entries(at.properties ?? {})) {
      if (key === name) places.push([...path, key]);
      walk(inside, [...path, key]);
    }
  };
  walk(schema, []);
  return places;
};

/** `µs` out of "Interval between groups [µs]". */
const unitOf = ({ description }: JsonSchema): string => /\[([^\]]+)\]$/.exec(description ?? '')?.[1] ?? '';
export const helpOf = ({ description }: JsonSchema): string => (description ?? '').replace(/\s*\[[^\]]+\]$/, '');

const range = (what: string, { minimum, maximum }: JsonSchema, unit: string): string => {
  const most = maximum === Number.MAX_SAFE_INTEGER ? undefined : maximum;
  const least = minimum === Number.MIN_SAFE_INTEGER ? undefined : minimum;
  const behind = unit === '' ? '' : ` ${unit}`;
  if (least !== undefined && most !== undefined) return `${what} from ${least} to ${most}${behind}`;
  if (least !== undefined) return `${what} of at least ${least}${behind}`;
  if (most !== undefined) return `${what} of at most ${most}${behind}`;
  return what;
};

/** What may stand there, in words. */
export const allowedWords = (schema: JsonSchema, unit = unitOf(schema)): string => {
  const many = choices(schema);
  if (many.length > 0) return [...new Set(many.map(one => allowedWords(one, unit)))].join(', or ');
  if (schema.const !== undefined) return JSON.stringify(schema.const);
  if (schema.enum) return schema.enum.map(one => JSON.stringify(one)).join(', ');
  switch (schema.type) {
    case 'number':
      return range('a number', schema, unit);
    case 'integer':
      return range('a whole number', schema, unit);
    case 'string':
      if (schema.pattern) return `text of the form ${schema.pattern}`;
      return schema.maxLength === undefined ? 'text' : `text of at most ${schema.maxLength} characters`;
    case 'boolean':
      return 'true or false';
    case 'null':
      return 'null';
    case 'array':
      return schema.maxItems === undefined ? 'a list [ … ]' : `a list [ … ] of at most ${schema.maxItems}`;
    case 'object':
      return 'a group { … }';
    default:
      return 'any value';
  }
};
