/** On for the first duration, off for the second, and so on, over again; `[]` is dark, `[Infinity]` steady. */
export interface LampPattern {
  name: string;
  stepsMs: readonly number[];
}

export interface Lamp {
  show(pattern: LampPattern): void;
}
