import type { Profile } from '../config/profile.ts';
import type { Config } from '../config/schema.ts';
import { heatingLineUs, motorLineUs } from './head.ts';
import type { Wire } from './pace.ts';

/** 8N1: start bit, eight of data, stop bit. */
export const bitsAByte = 10;
/** Full speed bulk transfers carry about a megabyte a second; from memory. */
const usbByteUs = 1;

/** Sent as early as there is room. */
const unhurried = { slowness: 0, leadUs: Number.POSITIVE_INFINITY };
/** How early bytes come at least to a printer that may be slower than its numbers. */
const leastLeadUs = 5_000;

/**
 * The way to the printer. A quarter of the buffer stays free, in which printers begin to ask for a stop, and which bears
 * one that is slower than its numbers. Where nobody asks for a stop, three rows have room all the same: with fewer, all
 * rows would have to take the same time. USB lets the host wait by itself.
 */
export const wireOf = (
  profile: Profile,
  { link, baud, flow }: Pick<Config['printer'], 'link' | 'baud' | 'flow'>,
): Wire => {
  const { bufferBytes } = profile;
  if (link !== 'serial') return { byteUs: usbByteUs, roomBytes: bufferBytes, ...unhurried };
  const byteUs = (bitsAByte * 1e6) / baud;
  if (flow !== 'none') return { byteUs, roomBytes: Math.floor(bufferBytes * 0.75), ...unhurried };
  const threeRows = Math.min(3 * Math.ceil(profile.widthDots / 8) + 8, bufferBytes - 16);
  const roomBytes = Math.floor(Math.max(bufferBytes * 0.75, threeRows));
  const slowness = profile.quirks.slowerByPercent / 100;
  if (slowness === 0) return { byteUs, roomBytes, ...unhurried };
  return { byteUs, roomBytes, slowness, leadUs: Math.max(leastLeadUs, 0.6 * roomBytes * byteUs) };
};

/** Longest time in which a printer that goes on works off a full buffer of rows. */
export const drainUs = (profile: Profile): number => {
  const rows = Math.ceil(profile.bufferBytes / Math.ceil(profile.widthDots / 8));
  return Math.ceil(rows * Math.max(motorLineUs(profile), heatingLineUs(profile.widthDots, profile.head)));
};
