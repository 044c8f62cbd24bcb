import type { Undo } from './clock.ts';

/**
 * The wire to the printer: bytes out, bytes in. It knows no control language.
 * `drained` is said when everything written so far has left this end (not: has been printed).
 * `held` follows the hardware flow-control line where there is one. `port-status` is the word of the printer's port, beside
 * its bytes, where the wire carries one: each change of it.
 */
export type PrinterSaid =
  | { kind: 'found' }
  | { kind: 'lost'; why: string }
  | { kind: 'bytes'; bytes: Uint8Array }
  | { kind: 'drained' }
  | { kind: 'held'; held: boolean }
  | { kind: 'port-status'; paperOut: boolean; error: boolean };

export interface Printer {
  /** Opens and keeps reopening until undone. */
  open(heard: (said: PrinterSaid) => void): Undo;
  /** Puts bytes on the wire in order. The caller paces; bytes written while lost are dropped. */
  write(bytes: Uint8Array): void;
  /** Drops what was written and hasn't left this end yet. */
  discard(): void;
}
