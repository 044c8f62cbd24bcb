export type FaultCode =
  | 'usage'
  | 'config'
  | 'script'
  | 'unreadable'
  | 'unwritable'
  | 'part-missing'
  | 'part-busy'
  | 'part-denied'
  | 'part-failed'
  | 'differs';

/** Exit codes: 0 done; 1 a fault of the program; 2 usage or configuration; 3 compared and differs; 4 a part; 5 input unreadable. */
const exitCodes: Record<FaultCode, number> = {
  usage: 2,
  config: 2,
  script: 2,
  differs: 3,
  'part-missing': 4,
  'part-busy': 4,
  'part-denied': 4,
  'part-failed': 4,
  unreadable: 5,
  unwritable: 5,
};

/**
 * A failure that a person can mend: what went wrong and where (`message`), and how to mend it (`mend`).
 * Anything else that is thrown is a fault of the program.
 */
export class Fault extends Error {
  readonly code: FaultCode;
  readonly mend: string;

  constructor(code: FaultCode, message: string, mend: string, options?: { cause?: unknown }) {
    super(message, options);
    this.name = 'Fault';
    this.code = code;
    this.mend = mend;
  }

  get exitCode(): number {
    return exitCodes[this.code];
  }
}

/** By its name: a part of the program that is bundled on its own has a class of its own. */
export const isFault = (error: unknown): error is Fault => error instanceof Error && error.name === 'Fault';
