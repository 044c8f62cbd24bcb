import { type EventEntry, levels, vocabulary } from './vocabulary.ts';

const cell = (text: string): string => text.replaceAll('|', '\\|');

const fieldsOf = ({ fields }: EventEntry): string => {
  const all = Object.entries(fields);
  if (all.length === 0) return '';
  return all.map(([name, { type, unit }]) => `\`${name}\` ${type}${unit ? ` [${unit}]` : ''}`).join(', ');
};

/** The reference of the log for people: every event of the vocabulary, as Markdown. */
export const eventReference = (): string => {
  const rows = Object.entries(vocabulary as Record<string, EventEntry>)
    .sort(([a], [b]) => (a < b ? -1 : 1))
    .map(
      ([name, entry]) =>
        `| \`${name}\` | ${entry.level} | ${cell(entry.meaning)}${entry.aside ? ' *' : ''} | ${cell(fieldsOf(entry))} |`,
    );
  return `# What the log says

One JSON object a line, on standard output: a service's console. Every line has \`level\` (${levels.join(', ')}), \`time\`
(ms since 1970, as the board believes), \`mono\` (µs since boot) and \`event\`; then the fields of its event. \`shot\` is the
number of a picture. \`log.level\` in the configuration says which levels are written.

\`slipshutter listen\` reads it, mixed with what kernel and service manager say on the same console.

Generated from \`src/console/vocabulary.ts\`.

| event | level | meaning | fields |
| --- | --- | --- | --- |
${rows.join('\n')}

\\* said by what is around the camera's machine: a replay doesn't say it again.
`;
};
