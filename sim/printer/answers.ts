import type { Clock, Undo } from '../../src/parts/clock.ts';

/** The wire from the printer back to the host: one byte after the other, flow control ahead of the rest. */
export interface Answers {
  /** Bytes that stay together, whose first bit leaves `delayUs` from now at the earliest. */
  say(bytes: readonly number[], delayUs?: number): void;
  /** XON or XOFF goes out between two bytes of anything else. */
  urgent(byte: number): void;
  /** What hasn't arrived is gone. */
  cut(): void;
}

export const createAnswers = (clock: Clock, byteUs: number, heard: (byte: number) => void): Answers => {
  let queue: { byte: number; readyUs: number }[] = [];
  let stop: Undo | null = null;
  let freeUs = 0;

  const next = () => {
    if (stop || queue.length === 0) return;
    const startUs = Math.max(freeUs, queue[0].readyUs, clock.nowUs());
    const waitsUs = startUs - clock.nowUs();
    if (waitsUs > 0 && queue[0].readyUs > clock.nowUs()) {
      // Not ready yet: something urgent may still overtake it.
      stop = clock.after(Math.ceil(queue[0].readyUs - clock.nowUs()), () => {
        stop = null;
        next();
      });
      return;
    }
    const { byte } = queue.shift()!;
    freeUs = startUs + byteUs;
    stop = clock.after(Math.ceil(freeUs - clock.nowUs()), () => {
      stop = null;
      heard(byte);
      next();
    });
  };

  return {
    say(bytes, delayUs = 0) {
      const readyUs = Math.max(clock.nowUs() + delayUs, queue.at(-1)?.readyUs ?? 0);
      for (const byte of bytes) queue.push({ byte, readyUs });
      next();
    },
    urgent(byte) {
      const waiting = stop !== null && freeUs <= clock.nowUs();
      queue.unshift({ byte, readyUs: clock.nowUs() });
      if (!waiting) return next();
      stop?.();
      stop = null;
      next();
    },
    cut() {
      queue = [];
      stop?.();
      stop = null;
      freeUs = 0;
    },
  };
};
