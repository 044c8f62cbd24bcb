import type { Undo } from './clock.ts';

/** The coil was let go, by `release` or by the part's own limit; `atUs` when it really was, late where the program was. */
export interface ShutterSaid {
  kind: 'released';
  atUs: number;
}

/**
 * The solenoid. The part itself holds the hard limit: whatever its caller does, the coil is let go after the longest
 * pulse and never energised beyond its duty. `energise` throws a `Fault` when the line can't be driven.
 */
export interface Shutter {
  energise(): void;
  release(): void;
  /**
   * After a stall the blades stay before the lens longer than the program's logical time says: who chooses frames needs
   * the true moment. Left out: `release` acts at the very moment it is called.
   */
  listen?(heard: (said: ShutterSaid) => void): Undo;
}
