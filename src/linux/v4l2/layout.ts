import { ior, iow, iowr } from '../ioctl.ts';

/**
 * Where the fields of V4L2's structures lie, by the size of pointers and of time: 64-bit machines; 32-bit ones with the
 * older 32-bit time; 32-bit ones with 64-bit time (kernel 5.6 and newer understand both). Little-endian throughout.
 */
export interface Layout {
  name: 'lp64' | 'ilp32' | 'ilp32-time64';
  /** struct v4l2_format, and its union. */
  formatBytes: number;
  formatAt: number;
  /** struct v4l2_buffer. */
  bufferBytes: number;
  timestampAt: number;
  /** Size of each of the two numbers of the stamp. */
  timeBytes: 4 | 8;
  sequenceAt: number;
  memoryAt: number;
  offsetAt: number;
  lengthAt: number;
  ioctl: {
    setFormat: number;
    getFormat: number;
    queryBuffer: number;
    queue: number;
    dequeue: number;
  };
}

type Places = Omit<Layout, 'ioctl'>;

const withIoctls = (places: Places): Layout => ({
  ...places,
  ioctl: {
    getFormat: iowr('V', 4, places.formatBytes),
    setFormat: iowr('V', 5, places.formatBytes),
    queryBuffer: iowr('V', 9, places.bufferBytes),
    queue: iowr('V', 15, places.bufferBytes),
    dequeue: iowr('V', 17, places.bufferBytes),
  },
});

export const lp64 = withIoctls({
  name: 'lp64',
  formatBytes: 208,
  formatAt: 8,
  bufferBytes: 88,
  timestampAt: 24,
  timeBytes: 8,
  sequenceAt: 56,
  memoryAt: 60,
  offsetAt: 64,
  lengthAt: 72,
});
export const ilp32 = withIoctls({
  name: 'ilp32',
  formatBytes: 204,
  formatAt: 4,
  bufferBytes: 68,
  timestampAt: 20,
  timeBytes: 4,
  sequenceAt: 44,
  memoryAt: 48,
  offsetAt: 52,
  lengthAt: 56,
});
export const ilp32Time64 = withIoctls({
  name: 'ilp32-time64',
  formatBytes: 204,
  formatAt: 4,
  bufferBytes: 80,
  timestampAt: 24,
  timeBytes: 8,
  sequenceAt: 56,
  memoryAt: 60,
  offsetAt: 64,
  lengthAt: 68,
});

/** Layouts to try on this machine, the better one first. */
export const layoutsFor = (arch: string): readonly Layout[] => (arch === 'arm' ? [ilp32Time64, ilp32] : [lp64]);

/** Structures without pointers and time are the same everywhere. */
export const sizes = {
  capability: 104,
  formatDescription: 64,
  frameSize: 44,
  frameInterval: 52,
  requestBuffers: 20,
  streamParameters: 204,
  control: 8,
  queryControl: 68,
} as const;

export const ioctl = {
  capability: ior('V', 0, sizes.capability),
  enumerateFormats: iowr('V', 2, sizes.formatDescription),
  requestBuffers: iowr('V', 8, sizes.requestBuffers),
  streamOn: iow('V', 18, 4),
  streamOff: iow('V', 19, 4),
  getParameters: iowr('V', 21, sizes.streamParameters),
  setParameters: iowr('V', 22, sizes.streamParameters),
  getControl: iowr('V', 27, sizes.control),
  setControl: iowr('V', 28, sizes.control),
  queryControl: iowr('V', 36, sizes.queryControl),
  enumerateSizes: iowr('V', 74, sizes.frameSize),
  enumerateIntervals: iowr('V', 75, sizes.frameInterval),
} as const;
