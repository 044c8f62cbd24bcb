import type { Way } from '../src/console/outlet.ts';
import type { Clock } from '../src/parts/clock.ts';

export interface VirtualConsole {
  /** The program's end of it. */
  way: Way;
  /** Whole lines that came out at the far end, a cut one left out; they are forgotten. */
  take(): string[];
  control: {
    /** Nobody takes anything, until false. */
    jam(on: boolean): void;
    /** Bits per second, ten a byte (8N1); null: as it was. */
    baud(now: number | null): void;
  };
}

/** What the kernel takes before it says that there is no room: a page, as Linux' tty layer has it. */
const bufferBytes = 4096;
const usualBaud = 115_200;

const noRoom = (): Error => Object.assign(new Error('EAGAIN: no room in the console'), { code: 'EAGAIN' });

/** A serial console: a buffer that empties at the line's speed, and what came out of it. */
export const createVirtualConsole = (clock: Clock): VirtualConsole => {
  let baud = usualBaud;
  let jammed = false;
  let waitingBytes = 0;
  let countedUs = 0;
  let text = '';

  const empty = () => {
    const nowUs = clock.nowUs();
    if (!jammed) waitingBytes = Math.max(0, waitingBytes - ((nowUs - countedUs) * baud) / 1e7);
    countedUs = nowUs;
  };

  return {
    way: {
      write(bytes) {
        empty();
        const room = Math.floor(bufferBytes - waitingBytes);
        if (room <= 0) throw noRoom();
        const took = bytes.subarray(0, room);
        waitingBytes += took.length;
        text += Buffer.from(took).toString('latin1');
        return took.length;
      },
      reopen() {},
      close() {},
    },
    take() {
      const lines = text.split('\n').slice(0, -1);
      text = '';
      return lines;
    },
    control: {
      jam(on) {
        empty();
        jammed = on;
      },
      baud(now) {
        empty();
        baud = now ?? usualBaud;
      },
    },
  };
};
