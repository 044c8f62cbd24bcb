/**
 * The solenoid. The part itself holds the hard limit: whatever its caller does, the coil is let go after the longest
 * pulse and never energised beyond its duty. `energise` throws a `Fault` when the line can't be driven.
 */
export interface Shutter {
  energise(): void;
  release(): void;
}
