import { expect } from 'vitest';
import type { createDesk } from './desk.ts';

type Desk = ReturnType<typeof createDesk>;

/** The first print job of its kind that nobody has answered. */
export const job = (desk: Desk, kind: 'body' | 'tail' | 'feed') => {
  const found = desk.pending.job.findIndex(each => each.kind === kind);
  const [taken] = desk.pending.job.splice(found, 1);
  expect(taken?.kind).toBe(kind);
  return taken;
};
/** A press, and time enough for its picture to be kept. */
export const shoot = (desk: Desk) => {
  desk.press();
  desk.run(600);
};
