import { closeSync, constants, openSync } from 'node:fs';
import { Fault } from '../../parts/fault.ts';
import type { PixelFormat } from '../../parts/webcam.ts';
import { codeOf, deviceFault, type Libc, needLibc } from '../native.ts';
import { type Mode, rankModes, sizesFor, type WantedMode } from './choose.ts';
import { applyControls, type ControlWishes, exposureUs } from './controls.ts';
import { enumerate } from './enumerate.ts';
import { ioctl, type Layout, layoutsFor } from './layout.ts';
import * as uapi from './uapi.ts';

/** An open webcam, streaming into buffers that the kernel shares with us. */
export interface Capture {
  /** Readable when a buffer is full. */
  readonly fd: number;
  readonly format: PixelFormat;
  readonly widthPx: number;
  readonly heightPx: number;
  readonly strideBytes: number;
  readonly range: 'limited' | 'full';
  readonly framesPerSecond: number;
  /** Exposure in force where it is fixed, microseconds. */
  readonly exposureUs: number | null;
  /** The next full buffer, or null while there is none. Throws when the webcam is gone. */
  dequeue(): uapi.BufferState | null;
  /** The bytes of a buffer that was dequeued; they are the webcam's again after `enqueue`. */
  bytes(buffer: uapi.BufferState): Uint8Array;
  enqueue(buffer: uapi.BufferState): void;
  close(): void;
}

export interface CaptureOptions {
  device: string;
  wanted: WantedMode;
  wishes: ControlWishes;
  note: (what: string) => void;
}

const bufferCount = 4;
/** Where neither driver nor setting says how fast frames come. */
const usualRate = 30;

const offeredModes = (libc: Libc, fd: number, wanted: WantedMode): { modes: Mode[]; codes: number[] } => {
  const codes = enumerate(libc, fd, ioctl.enumerateFormats, uapi.formatDescriptionOf, uapi.readFormatDescription);
  const modes = uapi.pixelFormats
    .filter(({ code }) => codes.includes(code))
    .flatMap(({ format, code }) => {
      const ranges = enumerate(libc, fd, ioctl.enumerateSizes, i => uapi.frameSizeOf(i, code), uapi.readFrameSize);
      const sizes = ranges.length > 0 ? sizesFor(ranges, wanted) : [wanted];
      return sizes.map(({ widthPx, heightPx }) => {
        const rates = enumerate(
          libc,
          fd,
          ioctl.enumerateIntervals,
          i => uapi.frameIntervalOf(i, code, widthPx, heightPx),
          uapi.readFrameInterval,
        ).map(({ framesPerSecond }) => framesPerSecond);
        return { format, code, widthPx, heightPx, framesPerSecond: rates.length > 0 ? Math.max(...rates) : null };
      });
    });
  return { modes, codes };
};

const checkCapability = (libc: Libc, fd: number, device: string) => {
  const bytes = new Uint8Array(104);
  try {
    libc.ioctl(fd, ioctl.capability, bytes);
  } catch (error) {
    throw new Fault('part-failed', `webcam: ${device} isn't a video device`, 'set webcam.device, mostly /dev/video0', {
      cause: error,
    });
  }
  const { captures, streams, card } = uapi.readCapability(bytes);
  if (captures && streams) return;
  throw new Fault(
    'part-failed',
    `webcam: ${device} ('${card}') gives no ${captures ? 'streams' : 'pictures'}`,
    'a webcam often has a second device for its metadata: try the next number',
  );
};

const setMode = (libc: Libc, fd: number, device: string, wanted: WantedMode) => {
  const { modes, codes } = offeredModes(libc, fd, wanted);
  let busy: unknown;
  for (const mode of rankModes(modes, wanted)) {
    for (const layout of layoutsFor(process.arch)) {
      const bytes = uapi.formatOf(layout, mode.widthPx, mode.heightPx, mode.code);
      try {
        libc.ioctl(fd, layout.ioctl.setFormat, bytes);
      } catch (error) {
        if (codeOf(error) === 'EBUSY') busy = error;
        continue;
      }
      const set = uapi.readFormat(layout, bytes);
      if (set.code === mode.code) return { format: mode.format, set };
    }
  }
  if (busy) throw deviceFault(busy, 'webcam', device, 'video');
  const offered = codes.map(uapi.fourccText).join(', ') || 'none';
  const format = wanted.format === 'auto' ? 'YUYV, GREY or MJPEG' : wanted.format;
  throw new Fault('part-failed', `webcam: ${device} doesn't give ${format}`, `it offers: ${offered}`);
};

const setRate = (libc: Libc, fd: number, wanted: number): number => {
  const parameters = uapi.parametersOf(wanted);
  try {
    libc.ioctl(fd, ioctl.setParameters, parameters);
  } catch {
    return usualRate;
  }
  return uapi.readParameters(parameters) ?? usualRate;
};

/** The layout whose calls this kernel knows. */
const queryBuffer = (libc: Libc, fd: number, index: number): { layout: Layout; buffer: uapi.BufferState } => {
  let failure: unknown;
  for (const layout of layoutsFor(process.arch)) {
    const bytes = uapi.bufferOf(layout, index);
    try {
      libc.ioctl(fd, layout.ioctl.queryBuffer, bytes);
      return { layout, buffer: uapi.readBuffer(layout, bytes) };
    } catch (error) {
      failure = error;
    }
  }
  throw failure;
};

const stream = (libc: Libc, fd: number) => {
  const request = uapi.requestBuffersOf(bufferCount);
  libc.ioctl(fd, ioctl.requestBuffers, request);
  const count = uapi.readRequestBuffers(request);
  const maps: { bytes: Uint8Array; unmap(): void }[] = [];
  const unmap = () => {
    for (const map of maps) map.unmap();
  };
  try {
    let layout: Layout | null = null;
    for (let index = 0; index < count; index++) {
      const queried = queryBuffer(libc, fd, index);
      layout = queried.layout;
      maps.push(libc.map(fd, queried.buffer.lengthBytes, queried.buffer.offset));
      libc.ioctl(fd, layout.ioctl.queue, uapi.bufferOf(layout, index));
    }
    if (!layout) throw new Error('the driver gives no buffers');
    libc.ioctl(fd, ioctl.streamOn, uapi.streamType());
    return { layout, maps, unmap };
  } catch (error) {
    unmap();
    throw error;
  }
};

/** Opens the webcam in the best of its modes and starts it. Throws a `Fault` that says what is the matter. */
export const openCapture = ({ device, wanted, wishes, note }: CaptureOptions): Capture => {
  const libc = needLibc('the webcam');
  let fd: number;
  try {
    fd = openSync(device, constants.O_RDWR | constants.O_NONBLOCK);
  } catch (error) {
    throw deviceFault(error, 'webcam', device, 'video');
  }
  try {
    checkCapability(libc, fd, device);
    const { format, set } = setMode(libc, fd, device, wanted);
    const framesPerSecond = setRate(libc, fd, wanted.framesPerSecond);
    applyControls(libc, fd, wishes, note);
    const { layout, maps, unmap } = stream(libc, fd);
    const taken = uapi.bufferOf(layout, 0);
    let open = true;
    return {
      fd,
      format,
      framesPerSecond,
      widthPx: set.widthPx,
      heightPx: set.heightPx,
      strideBytes: format === 'MJPEG' ? 0 : set.strideBytes,
      range: format === 'MJPEG' ? 'full' : set.range,
      exposureUs: wishes.exposure === null ? null : exposureUs(libc, fd),
      dequeue() {
        try {
          libc.ioctl(fd, layout.ioctl.dequeue, taken);
        } catch (error) {
          if (codeOf(error) === 'EAGAIN') return null;
          throw error;
        }
        return uapi.readBuffer(layout, taken);
      },
      bytes: ({ index, bytesUsed }) => maps[index].bytes.subarray(0, bytesUsed),
      enqueue: ({ index }) => void libc.ioctl(fd, layout.ioctl.queue, uapi.bufferOf(layout, index)),
      close() {
        if (!open) return;
        open = false;
        try {
          libc.ioctl(fd, ioctl.streamOff, uapi.streamType());
        } catch {
          // Gone already.
        }
        unmap();
        closeSync(fd);
      },
    };
  } catch (error) {
    closeSync(fd);
    if (error instanceof Fault) throw error;
    throw deviceFault(error, 'webcam', device, 'video');
  }
};
