import type * as z from 'zod/mini';
import { foldLines } from '../fold.ts';
import { allowedWords, helpOf, type JsonSchema, jsonSchema } from './allowed.ts';

/** The published JSON Schema of a settings file, as text. */
export const schemaText = (schema: z.ZodMiniType, title: string): string =>
  `${JSON.stringify({ $schema: 'https://json-schema.org/draft/2020-12/schema', title, ...jsonSchema(schema) }, null, 2)}\n`;

const widest = 100;

const comment = (words: string, indent: string): string =>
  foldLines(words, widest - indent.length)
    .map(line => `${indent}// ${line}\n`)
    .join('');

const settings = (schema: JsonSchema, indent: string): string => {
  const entries = Object.entries(schema.properties ?? {}).filter(([name]) => name !== '$schema');
  return entries
    .map(([name, one], index) => {
      const comma = index === entries.length - 1 ? '' : ',';
      if (one.properties)
        return `${index === 0 ? '' : '\n'}${comment(helpOf(one), indent)}${indent}"${name}": {\n${settings(one, `${indent}  `)}${indent}}${comma}\n`;
      const words = `${helpOf(one)} — ${allowedWords(one)}`;
      return `${comment(words, indent)}${indent}"${name}": ${JSON.stringify(one.default)}${comma}\n`;
    })
    .join('');
};

/** A settings file with every setting at its default, each under a comment that says what it is and what is allowed. */
export const sampleText = (schema: z.ZodMiniType, schemaFile: string): string => {
  const words = jsonSchema(schema);
  return `{\n  "$schema": ${JSON.stringify(schemaFile)},\n\n${settings(words, '  ')}}\n`;
};
