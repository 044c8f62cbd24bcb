/** Lines of others on the same console. */
export type Foreign =
  /** `atS`: seconds since boot by the kernel's own stamp; `severity` 0…7 where it is given (RFC 5424), 3 is an error. */
  | { kind: 'kernel'; atS: number; severity: number | null; text: string }
  /** What the service manager says of a service; `state` is its word in brackets, '' while something begins. */
  | { kind: 'manager'; state: string; text: string }
  | { kind: 'text'; text: string };

// printk's prefix is "[%5lu.%06lu] " (trade sources), perhaps with its level before and its caller behind.
const kernel = /^(?:<(\d{1,3})>)?\[ {0,4}(\d{1,10})\.(\d{6})\](?:\[ {0,5}[TC]\d+\])? ?/;
const manager = /^\[( {0,2}[A-Z]{2,6} {0,2}|[ *]{6})\] /;
const begins = /^ {9}(?=(?:Starting|Stopping|Reloading|Mounting|Unmounting|Activating|Deactivating)\b)/;
// Colours, cursor moves and the like (ECMA-48), as service managers write them.
const escapes = new RegExp(
  `${String.fromCharCode(27)}(?:\\[[0-?]*[ -/]*[@-~]|\\][^${String.fromCharCode(7)}]*${String.fromCharCode(7)}|[@-_])`,
  'g',
);

/** Where in a line of ours somebody else's line may have come between. */
export const foreignStart = new RegExp(
  `\\r+(?=${String.fromCharCode(27)}|\\[)|${String.fromCharCode(27)}\\[|(?:<\\d{1,3}>)?\\[ {0,4}\\d{1,10}\\.\\d{6}\\]|\\[(?: {0,2}[A-Z]{2,6} {0,2}|[ *]{6})\\] | {9}(?=Start|Stop|Reload|Mount|Unmount|Activ|Deactiv)`,
  'g',
);

const readable = (latin1: string): string =>
  /[\x80-\xff]/.test(latin1) ? Buffer.from(latin1, 'latin1').toString('utf8') : latin1;

/** A line of somebody else, one character a byte, without its line feed. */
export const readForeign = (latin1: string): Foreign => {
  const plain = latin1.replace(escapes, '').replace(/^\r+|\r+$/g, '');
  const stamp = kernel.exec(plain);
  if (stamp) {
    const [whole, priority, seconds, micros] = stamp;
    return {
      kind: 'kernel',
      atS: Number(seconds) + Number(micros) / 1e6,
      severity: priority === undefined ? null : Number(priority) & 7,
      text: readable(plain.slice(whole.length)),
    };
  }
  const state = manager.exec(plain);
  if (state) return { kind: 'manager', state: state[1].trim(), text: readable(plain.slice(state[0].length)) };
  if (begins.test(plain)) return { kind: 'manager', state: '', text: readable(plain.trim()) };
  return { kind: 'text', text: readable(plain) };
};

/** Begins as lines of kernel or service manager do. */
export const beginsForeign = (latin1: string): boolean => readForeign(latin1).kind !== 'text';
