import { describe, it } from 'vitest';

/** How a contract's bench lets time pass: virtual time at the desk, real time on the board. */
export interface Passing {
  pass(ms: number): Promise<void>;
  /** On the clock by which the part stamps. */
  nowUs(): number;
  /** How late event loop and kernel may have been on this bench so far, microseconds; 0 for the virtual parts. */
  graceUs(): number;
  done(): Promise<void> | void;
}

/** What is stamped by the kernel and by the program on one clock may be this far apart. */
export const stampGrainUs = ({ graceUs }: Passing): number => (graceUs() > 0 ? 100 : 0);

/** Lets time pass, as much as it takes and `longestMs` at most, until something is there; says whether it is. */
export const passUntil = async (
  bench: Passing,
  there: () => Promise<boolean> | boolean,
  stepMs: number,
  longestMs = 20_000,
): Promise<boolean> => {
  for (let passed = 0; passed < longestMs; passed += stepMs) {
    if (await there()) return true;
    await bench.pass(stepMs);
  }
  return there();
};

/** Sets up a part with its surroundings, or says why it isn't to be had here. */
export type Make<B extends Passing> = (() => Promise<B> | B) | { missing: string };

/** Runs a contract's cases over one implementation; what isn't there shows as pending. */
export const contract = <B extends Passing>(
  part: string,
  name: string,
  make: Make<B>,
  cases: Record<string, (bench: B) => Promise<void>>,
  /** Cases that this implementation has no way for: the word in their title that marks them, and why. */
  lacks: Record<string, string> = {},
): void => {
  describe(`${part}, ${name}`, () => {
    for (const [title, check] of Object.entries(cases)) {
      const lacking = Object.keys(lacks).find(word => title.includes(word));
      const missing = typeof make !== 'function' ? make.missing : lacking && lacks[lacking];
      if (missing || typeof make !== 'function') {
        it.todo(`${title} (pending: ${missing})`);
        continue;
      }
      it(title, async () => {
        const bench = await make();
        try {
          await check(bench);
        } finally {
          await bench.done();
        }
      });
    }
  });
};
