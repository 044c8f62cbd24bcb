import type { VirtualClock } from '../../sim/clock.ts';
import type { Capture } from '../../src/linux/v4l2/capture.ts';
import type { BufferState } from '../../src/linux/v4l2/uapi.ts';
import { Fault } from '../../src/parts/fault.ts';

const buffers = 4;
const widthPx = 8;
const heightPx = 4;

/** A V4L2 device on the virtual clock: frames on a beat into buffers that are queued; none queued, the frame is dropped. */
export const createCaptureModel = (clock: VirtualClock, framesPerSecond: number) => {
  const periodUs = 1e6 / framesPerSecond;
  const model = {
    plugged: true,
    damaged: false,
    short: false,
    silent: false,
    opened: 0,
    wakes: 0,
    stampedAtStart: true,
  };
  let ready: (() => void) | null = null;

  const open = (): Capture => {
    if (!model.plugged) throw new Fault('part-missing', 'webcam: /dev/video0 isn’t there', 'plug it in');
    model.opened++;
    const memory = Array.from({ length: buffers }, () => new Uint8Array(widthPx * heightPx));
    const queued = memory.map((_, i) => i);
    const full: BufferState[] = [];
    let sequence = 0;
    let closed = false;
    const beat = () => {
      if (closed || !model.plugged) return;
      const index = model.silent ? undefined : queued.shift();
      if (index !== undefined) {
        memory[index].fill(sequence & 255);
        full.push({
          index,
          bytesUsed: model.short ? 5 : widthPx * heightPx,
          damaged: model.damaged,
          stampedAtStart: model.stampedAtStart,
          monotonic: true,
          stampUs: Math.round(clock.nowUs() - (model.stampedAtStart ? periodUs * 1.5 : 0)),
          sequence,
          offset: 0,
          lengthBytes: widthPx * heightPx,
        });
      }
      sequence++;
      clock.after(periodUs, beat);
      if (full.length > 0) tell();
    };
    clock.after(periodUs, beat);
    const gone = () => Object.assign(new Error('ioctl: ENODEV'), { code: 'ENODEV' });
    return {
      fd: 5,
      format: 'GREY',
      widthPx,
      heightPx,
      strideBytes: widthPx,
      range: 'full',
      framesPerSecond,
      exposureUs: null,
      dequeue() {
        if (closed) throw new Error('dequeued after close');
        if (!model.plugged) throw gone();
        return full.shift() ?? null;
      },
      bytes: ({ index, bytesUsed }) => memory[index].subarray(0, bytesUsed),
      enqueue({ index }) {
        if (!model.plugged) throw gone();
        queued.push(index);
      },
      close() {
        closed = true;
      },
    };
  };
  const tell = () => {
    if (!ready) return;
    model.wakes++;
    ready();
  };
  return {
    model,
    open,
    watchFd(_: number, heard: () => void) {
      ready = heard;
      return () => {
        ready = null;
      };
    },
    unplug() {
      model.plugged = false;
      clock.after(0, tell);
    },
    replug() {
      model.plugged = true;
    },
  };
};
