/** Takes back what was started. Calling it twice is harmless. */
export type Undo = () => void;

/**
 * The one clock of machine and drivers. Its time is logical: it moves only when a timer falls due or an input is taken
 * in (see `Inlet`), so that the same inputs at the same stamps give the same run on the board and at the desk.
 */
export interface Clock {
  /** Microseconds (integer) since the start; never steps back. */
  nowUs(): number;
  /** Milliseconds since 1970 as the board believes; may step when the board learns the time. */
  wallMs(): number;
  /** Calls `due` once, `delayUs` from now. Timers that fall due at the same microsecond fire in the order they were set. */
  after(delayUs: number, due: () => void): Undo;
}

/**
 * The one door by which anything from outside reaches the machine. `take` stamps the input, first fires every timer due
 * up to that stamp, then hands it to the recording, then runs `deliver`. `atUs`: when it happened, where the kernel says
 * so and it matters that it is heard in its place among the timers, though the event loop was late.
 */
export interface Inlet {
  take(part: PartName, said: Record<string, unknown>, deliver: () => void, atUs?: number): void;
  /** Writes down, at the present moment, what came back inside a call to a part: that it threw. */
  note?(part: PartName, said: Record<string, unknown>): void;
}

export type PartName =
  | 'button'
  | 'shutter'
  | 'webcam'
  | 'darkroom'
  | 'printer'
  | 'lamp'
  | 'motor'
  | 'album'
  /** Under the album, which is what the machine hears: its answers move the time, but are written down nowhere. */
  | 'disk'
  | 'supply'
  | 'clock'
  | 'service';
