import type { Log } from '../console/vocabulary.ts';
import type { Kit } from './kit.ts';

export type RefusedWhy = 'warming' | 'blind' | 'busy' | 'queue-full' | 'supply-low' | 'nothing-to-reprint' | 'closing';

/** A transition that only says no: in the log, and for a moment on the lamp. */
export const refusal = (kit: Kit, log: Log) => (why: RefusedWhy) => ({
  actions: [() => log('refused', { why }), kit.raise({ type: 'note.refused' })],
});
