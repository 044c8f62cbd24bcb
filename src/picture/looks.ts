import type { Config, Look } from '../config/schema.ts';
import { lookSchema } from '../config/schema.ts';
import { Fault } from '../parts/fault.ts';

const look = (settings: Partial<Look>): Look => lookSchema.parse(settings);

/** The looks that come along; `picture.looks` adds more, or replaces one by its name. */
export const builtInLooks: Readonly<Record<string, Look>> = {
  /** Faces in any light: gentle local contrast, dots placed by search. */
  soft: look({}),
  /** Strong contrast for bright rooms and bold shapes. */
  hard: look({ contrast: 1.5, localContrast: 0.25, sharpen: 0.9 }),
  /** Shadows and lights opened as Atkinson's diffusion does. */
  open: look({ halftone: 'atkinson', localContrast: 0.35, sharpen: 0.8, gamma: 0.75 }),
  /** Edges alone, like a pen drawing. */
  line: look({ edges: 1, levels: 1, localContrast: 0, sharpen: 0, halftone: 'threshold' }),
  /** Newspaper dots at 45 degrees. */
  screen: look({ halftone: 'clustered-dot', localContrast: 0.3, sharpen: 0.9 }),
  /** A woven 8 × 8 pattern in doubled grains. */
  coarse: look({ halftone: 'bayer', grainDots: 2, sharpen: 1 }),
  /** Tones as they are, quickest to develop. */
  plain: look({ halftone: 'floyd-steinberg', localContrast: 0, sharpen: 0 }),
};

/** The look that a configuration names. */
export const resolveLook = ({ look: name, looks }: Pick<Config['picture'], 'look' | 'looks'>): Look => {
  const found = looks[name] ?? builtInLooks[name];
  if (found) return found;
  throw new Fault(
    'config',
    `there is no look '${name}' (picture.look)`,
    `use one of ${[...new Set([...Object.keys(looks), ...Object.keys(builtInLooks)])].join(', ')}`,
  );
};
