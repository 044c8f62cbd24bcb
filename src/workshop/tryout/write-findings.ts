import { applyEdits, modify } from 'jsonc-parser';
import type { Config } from '../../config/schema.ts';
import type { Finding } from './bench.ts';

/** Findings that the configuration doesn't say already. */
export const newFindings = (config: Config, findings: readonly Finding[]): Finding[] =>
  findings.filter(({ path: [group, key], value }) => {
    const settings: Record<string, unknown> = config[group as keyof Config] as never;
    return settings[key] !== value;
  });

/** The configuration's text with the findings in it; comments and order stay as they are. */
export const withFindings = (text: string, findings: readonly Finding[]): string =>
  findings.reduce(
    (current, { path, value }) =>
      applyEdits(current, modify(current, [...path], value, { formattingOptions: { insertSpaces: true, tabSize: 2 } })),
    text,
  );
