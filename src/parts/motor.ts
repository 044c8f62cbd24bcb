/**
 * The focus motor on an H-bridge. The part itself never drives both sides, keeps the dead time before it reverses and
 * stops at its travel limit, whatever its caller does.
 */
export interface Motor {
  drive(direction: 'in' | 'out' | 'off'): void;
}
