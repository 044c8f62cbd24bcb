import type { Config, Look } from '../config/schema.ts';
import { lookSchema } from '../config/schema.ts';
import { Fault } from '../parts/fault.ts';

/** A look that comes along, and when to use it, in words of the trade. */
interface BuiltIn {
  words: string;
  settings: Partial<Look>;
}

const comingAlong = {
  soft: {
    words:
      'Faces in any light. Automatic levels and gentle local contrast open shadows; dots are placed one by one for the eye.',
    settings: {},
  },
  hard: {
    words: 'Deep blacks and clean whites, crisp edges: bold shapes, bright rooms, pictures seen from a distance.',
    settings: { contrast: 1.5, localContrast: 0.25, sharpen: 0.9 },
  },
  open: {
    words: 'Lighter middle tones; the darkest and lightest parts run out to solid and to bare paper.',
    settings: { halftone: 'atkinson', localContrast: 0.35, sharpen: 0.8, gamma: 0.75 },
  },
  line: {
    words: 'Outlines alone, like a pen drawing: little ink.',
    settings: { edges: 1, levels: 1, localContrast: 0, sharpen: 0, halftone: 'threshold' },
  },
  screen: {
    words: 'A newspaper’s screen: clustered dots at 45 degrees, coarse, and the surest on paper that blooms.',
    settings: { halftone: 'clustered-dot', localContrast: 0.3, sharpen: 0.9 },
  },
  coarse: {
    words: 'Coarse grain: a woven pattern of doubled dots.',
    settings: { halftone: 'bayer', grainDots: 2, sharpen: 1 },
  },
  plain: {
    words: 'Tones as they are after automatic levels, by plain error diffusion: the quickest to develop.',
    settings: { halftone: 'floyd-steinberg', localContrast: 0, sharpen: 0 },
  },
} satisfies Readonly<Record<string, BuiltIn>>;

/** The looks that come along; `picture.looks` adds more, or replaces one by its name. */
export const builtInLooks = Object.fromEntries(
  Object.entries(comingAlong).map(([name, { settings }]) => [name, lookSchema.parse(settings)]),
) as Readonly<Record<keyof typeof comingAlong, Look>> & Readonly<Record<string, Look>>;

/** What each of them is for. */
export const lookWords: Readonly<Record<string, string>> = Object.fromEntries(
  Object.entries(comingAlong).map(([name, { words }]) => [name, words]),
);

/** Names of a configuration's own looks and of those that come along. */
export const lookNames = (looks: Config['picture']['looks']): string[] => [
  ...new Set([...Object.keys(looks), ...Object.keys(builtInLooks)]),
];

/** The look that a configuration names. */
export const resolveLook = ({ look: name, looks }: Pick<Config['picture'], 'look' | 'looks'>): Look => {
  if (Object.hasOwn(looks, name)) return looks[name];
  if (Object.hasOwn(builtInLooks, name)) return builtInLooks[name];
  throw new Fault('config', `there is no look '${name}'`, `use one of ${lookNames(looks).join(', ')}`);
};
