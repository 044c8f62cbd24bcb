/** Text is read on terminals of this many columns, if nothing else is known. */
const screenColumns = 80;

/** Text in lines of at most `width` characters, broken between words. */
export const foldLines = (text: string, width: number = screenColumns): string[] => {
  const lines = [''];
  for (const word of text.split(/\s+/)) {
    const last = lines[lines.length - 1];
    if (last === '') lines[lines.length - 1] = word;
    else if (last.length + 1 + word.length <= width) lines[lines.length - 1] = `${last} ${word}`;
    else lines.push(word);
  }
  return lines;
};

/** Text behind its lead (a name, a bullet, blanks), the further lines under the first one's words; ends in a line feed. */
export const hanging = (lead: string, text: string): string =>
  `${lead}${foldLines(text, screenColumns - lead.length).join(`\n${' '.repeat(lead.length)}`)}\n`;
