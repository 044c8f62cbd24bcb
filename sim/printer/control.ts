import type { DecoderCounts } from './decoder.ts';

/** What may happen to a printer from outside; all of it takes effect at once. */
export interface PrinterControl {
  /** The sensor sees no paper, whatever is there. */
  paperOut(on: boolean): void;
  nearEnd(on: boolean): void;
  lid(open: boolean): void;
  /** Its own sensor calls the head hot, whatever the model says. */
  hot(on: boolean): void;
  ambient(celsius: number): void;
  /** The host sees the port vanish; what is in the printer's buffer is still printed. */
  unplug(why?: string): void;
  replug(): void;
  /** It answers nothing any more, and prints on. */
  silent(on: boolean): void;
  /** Without power, bytes go nowhere and its buffer is empty; with it again it boots. */
  power(on: boolean): void;
  /** A new roll of so many millimetres, pulled through to the tear edge. */
  loadRoll(mm: number): void;
  /** Somebody tears the strip off at the edge. */
  tear(): void;
  /** Its own feed button. */
  feedButton(down: boolean): void;
  jamCutter(on: boolean): void;
  /** An error that only power heals. */
  break(): void;
  /** Bytes that it says out of turn. */
  says(bytes: readonly number[]): void;
}

export interface PrinterStats extends DecoderCounts {
  bytesReceived: number;
  /** Into a full buffer, or while it booted or woke up. */
  bytesLost: number;
  /** How often an image stood still because its next row was late. */
  starvedLines: number;
  linesHeated: number;
  dotsHeated: number;
  /** Most bytes that the receive buffer ever held. */
  peakStored: number;
  headJoules: number;
}
