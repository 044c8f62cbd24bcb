import type { Undo } from '../../parts/clock.ts';

/** A GPIO line as configured: its offset on the chip, or its name there. */
export type LineId = number | string;

export interface OutputOptions {
  activeLow: boolean;
  /** What it is used for, as others see it. */
  use: string;
}

export interface InputOptions extends OutputOptions {
  pull: 'up' | 'down' | 'off';
  /** Chatter shorter than this is dropped by the kernel; 0: none. Where it can't be had, edges come as they are. */
  debounceUs: number;
}

export interface LineEdge {
  active: boolean;
  /** CLOCK_MONOTONIC, microseconds: the kernel's stamp by the chip's device, the time of hearing by sysfs. */
  atMonotonicUs: number;
}

/** How a thread of its own can let an output go: by file descriptor and the bits of a chip line, or by a sysfs file. */
export type LetGo = { by: 'chip'; fd: number } | { by: 'sysfs'; file: string; inactive: '0' | '1' };

export interface OutputLine {
  set(active: boolean): void;
  readonly letGo: LetGo;
  /** Lets the line go, inactive. */
  close(): void;
}

export interface InputLine {
  read(): boolean;
  /** Every edge from now on, never inside this call. */
  listen(heard: (edge: LineEdge) => void): Undo;
  close(): void;
}

/** One chip's lines. Each throws a `Fault` where the line isn't there, is in use or not permitted. */
export interface Gpio {
  readonly access: 'chip' | 'sysfs';
  output(line: LineId, options: OutputOptions): OutputLine;
  input(line: LineId, options: InputOptions): InputLine;
  close(): void;
}
