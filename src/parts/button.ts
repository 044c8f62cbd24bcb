import type { Undo } from './clock.ts';

/** A raw contact level: bounce included, one report an edge. `atUs` is the edge's own stamp where the kernel gives one. */
export interface ButtonSaid {
  kind: 'level';
  down: boolean;
  atUs: number;
}

export interface Button {
  listen(heard: (said: ButtonSaid) => void): Undo;
}
