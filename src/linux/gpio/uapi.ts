import { ior, iowr, textAt } from '../ioctl.ts';
import type { InputOptions, OutputOptions } from './lines.ts';

/**
 * GPIO character device, version 2, as in the kernel's `linux/gpio.h`. The layout is the same on all our boards; they
 * are all little-endian.
 */
const sizes = { chipInfo: 68, lineInfo: 256, request: 592, values: 16, event: 48 };
export const chipInfoIoctl = ior('\xb4', 0x01, sizes.chipInfo);
export const lineInfoIoctl = iowr('\xb4', 0x05, sizes.lineInfo);
export const requestIoctl = iowr('\xb4', 0x07, sizes.request);
export const getValuesIoctl = iowr('\xb4', 0x0e, sizes.values);
export const setValuesIoctl = iowr('\xb4', 0x0f, sizes.values);
export const eventBytes = sizes.event;

const flag = {
  used: 1n << 0n,
  activeLow: 1n << 1n,
  input: 1n << 2n,
  output: 1n << 3n,
  risingEdge: 1n << 4n,
  fallingEdge: 1n << 5n,
  pullUp: 1n << 8n,
  pullDown: 1n << 9n,
  biasOff: 1n << 10n,
};
const attributeOutputValues = 2;
const attributeDebounce = 3;
const request = { consumer: 256, config: 288, attributes: 320, lines: 560, bufferEvents: 564, fd: 588 };
const consumerBytes = 32;
/** Edges the kernel keeps for us while the event loop is busy; the oldest go first. */
const keptEvents = 1024;
const pullFlag = { up: flag.pullUp, down: flag.pullDown, off: flag.biasOff };

const viewOf = (bytes: Uint8Array) => new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);

export const emptyChipInfo = () => new Uint8Array(sizes.chipInfo);
export const readChipInfo = (bytes: Uint8Array) => ({
  name: textAt(bytes, 0, 32),
  label: textAt(bytes, 32, 32),
  lines: viewOf(bytes).getUint32(64, true),
});

export const lineInfoOf = (offset: number): Uint8Array => {
  const bytes = new Uint8Array(sizes.lineInfo);
  viewOf(bytes).setUint32(64, offset, true);
  return bytes;
};
export const readLineInfo = (bytes: Uint8Array) => ({
  name: textAt(bytes, 0, 32),
  consumer: textAt(bytes, 32, 32),
  used: (viewOf(bytes).getBigUint64(72, true) & flag.used) !== 0n,
});

const requestOf = (offset: number, options: OutputOptions, flags: bigint) => {
  const bytes = new Uint8Array(sizes.request);
  const view = viewOf(bytes);
  view.setUint32(0, offset, true);
  bytes.set(new TextEncoder().encode(`slipshutter ${options.use}`).subarray(0, consumerBytes - 1), request.consumer);
  view.setBigUint64(request.config, flags | (options.activeLow ? flag.activeLow : 0n), true);
  view.setUint32(request.lines, 1, true);
  const attribute = (id: number, write: (at: number) => void) => {
    const count = view.getUint32(request.config + 8, true);
    const at = request.attributes + 24 * count;
    view.setUint32(at, id, true);
    write(at + 8);
    view.setBigUint64(at + 16, 1n, true);
    view.setUint32(request.config + 8, count + 1, true);
  };
  return { bytes, view, attribute };
};

/** An output that begins inactive. */
export const outputRequest = (offset: number, options: OutputOptions): Uint8Array => {
  const { bytes, view, attribute } = requestOf(offset, options, flag.output);
  attribute(attributeOutputValues, at => view.setBigUint64(at, 0n, true));
  return bytes;
};

/** An input with both edges. */
export const inputRequest = (offset: number, options: InputOptions): Uint8Array => {
  const flags = flag.input | flag.risingEdge | flag.fallingEdge | pullFlag[options.pull];
  const { bytes, view, attribute } = requestOf(offset, options, flags);
  if (options.debounceUs > 0) attribute(attributeDebounce, at => view.setUint32(at, options.debounceUs, true));
  view.setUint32(request.bufferEvents, keptEvents, true);
  return bytes;
};
export const grantedFd = (bytes: Uint8Array): number => viewOf(bytes).getInt32(request.fd, true);

/** Value of the one line of a request; `active` when it is to be set. */
export const valuesOf = (active: boolean): Uint8Array => {
  const bytes = new Uint8Array(sizes.values);
  bytes[0] = active ? 1 : 0;
  bytes[8] = 1;
  return bytes;
};
export const readValue = (bytes: Uint8Array): boolean => (bytes[0] & 1) === 1;

export interface KernelEdge {
  atMonotonicUs: number;
  rising: boolean;
  /** Counts the edges of the line; a gap means that some were dropped. */
  sequence: number;
}
export const readEdge = (bytes: Uint8Array, at: number): KernelEdge => {
  const view = viewOf(bytes);
  return {
    atMonotonicUs: Number(view.getBigUint64(at, true) / 1000n),
    rising: view.getUint32(at + 8, true) === 1,
    sequence: view.getUint32(at + 20, true),
  };
};
