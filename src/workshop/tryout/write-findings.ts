import { applyEdits, modify } from 'jsonc-parser';
import type { Finding } from './bench.ts';

/** The configuration's text with the findings in it; comments and order stay as they are. */
export const withFindings = (text: string, findings: readonly Finding[]): string =>
  findings.reduce(
    (current, { path, value }) =>
      applyEdits(current, modify(current, [...path], value, { formattingOptions: { insertSpaces: true, tabSize: 2 } })),
    text,
  );
