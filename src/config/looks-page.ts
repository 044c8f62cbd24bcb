import { builtInLooks, lookWords } from '../picture/looks.ts';
import { allowedWords, helpOf, jsonSchema } from './allowed.ts';
import { lookSchema } from './schema.ts';

/** What each way from tone to dots looks like on paper, and where it comes from. */
const halftones: Readonly<Record<(typeof builtInLooks)[string]['halftone'], string>> = {
  search:
    'direct binary search (Analoui and Allebach, 1992): dots are turned and exchanged as long as the eye sees less difference to the picture; the finest, and the slowest to develop',
  'floyd-steinberg': 'error diffusion to four neighbours (1976): sharp, with faint worms in even tones',
  ostromoukhov: 'error diffusion with weights by tone (2001): more even flats',
  'zhou-fang': 'the same with a threshold that wanders (2003): no worms, a little grain',
  atkinson: 'error diffusion that lets a quarter of the error go: open, high in contrast',
  'jarvis-judice-ninke': 'error diffusion to twelve neighbours (1976): sharper edges, coarser texture',
  stucki: 'error diffusion to twelve neighbours (1981): crisp',
  bayer: 'ordered dots in a woven 8 × 8 pattern (1973)',
  'void-and-cluster': 'ordered dots without a pattern (Ulichney, 1993): even grain',
  'clustered-dot': 'dots that grow in clusters at 45 degrees, as in newspapers',
  threshold: 'black or white at middle grey, nothing between',
};

const table = (head: readonly string[], rows: readonly (readonly string[])[]): string =>
  [head, head.map(() => '---'), ...rows].map(row => `| ${row.join(' | ')} |\n`).join('');

/** The page about looks, from the schema and the looks that come along. */
export const looksPage = (): string => {
  const settings = Object.entries(jsonSchema(lookSchema).properties ?? {});
  const plain = lookSchema.parse({});
  const own = (look: (typeof builtInLooks)[string]) =>
    Object.entries(look)
      .filter(([name, value]) => value !== plain[name as keyof typeof plain])
      .map(([name, value]) => `${name} ${value}`)
      .join(', ');
  return `# Looks

A look says how a picture becomes dots. \`picture.look\` names one; \`slipshutter proof PHOTO --look all\` shows them side by
side. Written from the program's own schema.

## Those that come along

${table(
  ['look', 'for', 'its settings, where they differ'],
  Object.entries(builtInLooks).map(([name, look]) => [`\`${name}\``, lookWords[name], own(look) || 'none']),
)}
## One of your own

\`picture.looks\` adds looks, or replaces one by its name; what is left out is at its default:

\`\`\`json
"picture": { "look": "evening", "looks": { "evening": { "gamma": 0.8, "localContrast": 0.6 } } }
\`\`\`

${table(
  ['setting', 'what it does', 'allowed', 'default'],
  settings.map(([name, one]) => [`\`${name}\``, helpOf(one), allowedWords(one), `${one.default}`]),
)}
They act in this order: the frame is cropped and scaled in linear light; levels; local contrast; sharpening; edges; gamma,
contrast and negative; then the printer's tone curve (\`wedge\`) and the halftone.

## Halftones

${table(
  ['halftone', 'on paper'],
  Object.entries(halftones).map(([name, words]) => [`\`${name}\``, words]),
)}
## Around the picture

\`picture.aspect\` is width by height as the picture is held; \`picture.along\` lays it along the paper, its top at the right.
\`picture.border\` is none, a line, or a frame with white inside its line. \`picture.caption\` is one line of words under the
picture, in which {number}, {date}, {time} and {camera} are filled in; date and time stay empty where the board has no clock.
`;
};
