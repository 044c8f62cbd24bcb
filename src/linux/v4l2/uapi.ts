import type { PixelFormat } from '../../parts/webcam.ts';
import { textAt } from '../ioctl.ts';
import { type Layout, sizes } from './layout.ts';

/** Encoding and decoding of `linux/videodev2.h`: pure, over bytes. */
export const captureType = 1;
const memoryMapped = 1;

const viewOf = (bytes: Uint8Array) => new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
const u32 = (bytes: Uint8Array, at: number): number => viewOf(bytes).getUint32(at, true);
const i32 = (bytes: Uint8Array, at: number): number => viewOf(bytes).getInt32(at, true);
const put32 = (bytes: Uint8Array, at: number, value: number): void => viewOf(bytes).setUint32(at, value >>> 0, true);

export const fourcc = (name: string): number =>
  (name.charCodeAt(0) |
    (name.charCodeAt(1) << 8) |
    (name.charCodeAt(2) << 16) |
    ((name.charCodeAt(3) || 0x20) << 24)) >>>
  0;
export const fourccText = (code: number): string =>
  String.fromCharCode(code & 0x7f, (code >> 8) & 0x7f, (code >> 16) & 0x7f, (code >>> 24) & 0x7f).trim();

export const pixelFormats: readonly { format: PixelFormat; code: number }[] = [
  { format: 'GREY', code: fourcc('GREY') },
  { format: 'YUYV', code: fourcc('YUYV') },
  { format: 'MJPEG', code: fourcc('MJPG') },
  { format: 'MJPEG', code: fourcc('JPEG') },
];

const hasDeviceCaps = 0x8000_0000;
const canCapture = 0x0000_0001;
const canStream = 0x0400_0000;
export const readCapability = (bytes: Uint8Array) => {
  const own = u32(bytes, 84);
  const capabilities = own & hasDeviceCaps ? u32(bytes, 88) : own;
  return {
    driver: textAt(bytes, 0, 16),
    card: textAt(bytes, 16, 32),
    captures: (capabilities & canCapture) !== 0,
    streams: (capabilities & canStream) !== 0,
  };
};

export const formatDescriptionOf = (index: number): Uint8Array => {
  const bytes = new Uint8Array(sizes.formatDescription);
  put32(bytes, 0, index);
  put32(bytes, 4, captureType);
  return bytes;
};
export const readFormatDescription = (bytes: Uint8Array): number => u32(bytes, 44);

export type SizeRange =
  | { kind: 'exact'; widthPx: number; heightPx: number }
  | {
      kind: 'steps';
      width: { least: number; most: number; step: number };
      height: { least: number; most: number; step: number };
    };
const discrete = 1;

export const frameSizeOf = (index: number, code: number): Uint8Array => {
  const bytes = new Uint8Array(sizes.frameSize);
  put32(bytes, 0, index);
  put32(bytes, 4, code);
  return bytes;
};
export const readFrameSize = (bytes: Uint8Array): SizeRange => {
  const steps = (at: number) => ({ least: u32(bytes, at), most: u32(bytes, at + 4), step: u32(bytes, at + 8) });
  if (u32(bytes, 8) === discrete) return { kind: 'exact', widthPx: u32(bytes, 12), heightPx: u32(bytes, 16) };
  return { kind: 'steps', width: steps(12), height: steps(24) };
};

export const frameIntervalOf = (index: number, code: number, widthPx: number, heightPx: number): Uint8Array => {
  const bytes = new Uint8Array(sizes.frameInterval);
  [index, code, widthPx, heightPx].forEach((value, i) => void put32(bytes, 4 * i, value));
  return bytes;
};
/** The rate, or for a range of intervals the fastest. */
export const readFrameInterval = (bytes: Uint8Array): { framesPerSecond: number; last: boolean } => ({
  framesPerSecond: u32(bytes, 24) / Math.max(1, u32(bytes, 20)),
  last: u32(bytes, 16) !== discrete,
});

export interface PixFormat {
  widthPx: number;
  heightPx: number;
  code: number;
  strideBytes: number;
  imageBytes: number;
  range: 'limited' | 'full';
}
const colourspaceJpeg = 7;
const quantization = { full: 1, limited: 2 };

export const formatOf = (layout: Layout, widthPx: number, heightPx: number, code: number): Uint8Array => {
  const bytes = new Uint8Array(layout.formatBytes);
  put32(bytes, 0, captureType);
  put32(bytes, layout.formatAt, widthPx);
  put32(bytes, layout.formatAt + 4, heightPx);
  put32(bytes, layout.formatAt + 8, code);
  return bytes;
};
export const readFormat = (layout: Layout, bytes: Uint8Array): PixFormat => {
  const at = layout.formatAt;
  const code = u32(bytes, at + 8);
  const told = u32(bytes, at + 40);
  // By default Y′CbCr is limited but for the JPEG colour space (V4L2_MAP_QUANTIZATION_DEFAULT); grey alone is full.
  const limited = code === fourcc('YUYV') && u32(bytes, at + 24) !== colourspaceJpeg;
  const range = told === quantization.full ? 'full' : told === quantization.limited || limited ? 'limited' : 'full';
  return {
    widthPx: u32(bytes, at),
    heightPx: u32(bytes, at + 4),
    code,
    strideBytes: u32(bytes, at + 16),
    imageBytes: u32(bytes, at + 20),
    range,
  };
};

const timePerFrame = 0x1000;
export const parametersOf = (framesPerSecond: number): Uint8Array => {
  const bytes = new Uint8Array(sizes.streamParameters);
  put32(bytes, 0, captureType);
  put32(bytes, 12, 1);
  put32(bytes, 16, framesPerSecond);
  return bytes;
};
/** The rate in force, or null where the driver doesn't say. */
export const readParameters = (bytes: Uint8Array): number | null => {
  const [seconds, frames] = [u32(bytes, 12), u32(bytes, 16)];
  return (u32(bytes, 4) & timePerFrame) === 0 || seconds === 0 || frames === 0 ? null : frames / seconds;
};

export const requestBuffersOf = (count: number): Uint8Array => {
  const bytes = new Uint8Array(sizes.requestBuffers);
  put32(bytes, 0, count);
  put32(bytes, 4, captureType);
  put32(bytes, 8, memoryMapped);
  return bytes;
};
export const readRequestBuffers = (bytes: Uint8Array): number => u32(bytes, 0);

export interface BufferState {
  index: number;
  bytesUsed: number;
  /** The driver knows that the content is damaged. */
  damaged: boolean;
  /** Stamped at the start of exposure, not at its end. */
  stampedAtStart: boolean;
  /** Whether the stamp is CLOCK_MONOTONIC. */
  monotonic: boolean;
  stampUs: number;
  sequence: number;
  /** For mmap. */
  offset: number;
  lengthBytes: number;
}
const bufferFlag = { error: 0x40, stampMask: 0xe000, monotonic: 0x2000, sourceMask: 0x70000, startOfExposure: 0x10000 };

export const bufferOf = (layout: Layout, index: number): Uint8Array => {
  const bytes = new Uint8Array(layout.bufferBytes);
  put32(bytes, 0, index);
  put32(bytes, 4, captureType);
  put32(bytes, layout.memoryAt, memoryMapped);
  return bytes;
};
export const readBuffer = (layout: Layout, bytes: Uint8Array): BufferState => {
  const flags = u32(bytes, 12);
  const time = (at: number): number =>
    layout.timeBytes === 8 ? Number(viewOf(bytes).getBigInt64(at, true)) : i32(bytes, at);
  return {
    index: u32(bytes, 0),
    bytesUsed: u32(bytes, 8),
    damaged: (flags & bufferFlag.error) !== 0,
    stampedAtStart: (flags & bufferFlag.sourceMask) === bufferFlag.startOfExposure,
    monotonic: (flags & bufferFlag.stampMask) === bufferFlag.monotonic,
    stampUs: time(layout.timestampAt) * 1_000_000 + time(layout.timestampAt + layout.timeBytes),
    sequence: u32(bytes, layout.sequenceAt),
    offset: u32(bytes, layout.offsetAt),
    lengthBytes: u32(bytes, layout.lengthAt),
  };
};

export const streamType = (): Uint8Array => {
  const bytes = new Uint8Array(4);
  put32(bytes, 0, captureType);
  return bytes;
};

export const controlOf = (id: number, value = 0): Uint8Array => {
  const bytes = new Uint8Array(sizes.control);
  put32(bytes, 0, id);
  put32(bytes, 4, value);
  return bytes;
};
export const readControl = (bytes: Uint8Array): number => i32(bytes, 4);

export const queryControlOf = (id: number): Uint8Array => {
  const bytes = new Uint8Array(sizes.queryControl);
  put32(bytes, 0, id);
  return bytes;
};
const controlDisabled = 1;
export const readQueryControl = (bytes: Uint8Array) => ({
  name: textAt(bytes, 8, 32),
  least: i32(bytes, 40),
  most: i32(bytes, 44),
  disabled: (u32(bytes, 56) & controlDisabled) !== 0,
});
