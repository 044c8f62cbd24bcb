import type { Profile } from '../config/profile.ts';
import type { Config } from '../config/schema.ts';
import { heatingLineUs, motorLineUs } from './head.ts';
import type { Wire } from './pace.ts';

/** 8N1: start bit, eight of data, stop bit. */
export const bitsAByte = 10;
/** Full speed bulk transfers carry about a megabyte a second; from memory. */
const usbByteUs = 1;

/**
 * The way to the printer. A quarter of the buffer stays free, or a row and its header: that bears a printer a little slower than
 * its numbers, and stays clear of the fill at which printers ask for a stop. USB lets the host wait by itself.
 */
export const wireOf = (profile: Profile, { link, baud }: Pick<Config['printer'], 'link' | 'baud'>): Wire => {
  const { bufferBytes } = profile;
  if (link !== 'serial') return { byteUs: usbByteUs, roomBytes: bufferBytes };
  const rowBytes = Math.ceil(profile.widthDots / 8) + 8;
  const spare = Math.min(Math.max(bufferBytes / 4, rowBytes), bufferBytes / 2);
  return { byteUs: (bitsAByte * 1e6) / baud, roomBytes: Math.floor(bufferBytes - spare) };
};

/** Longest time in which a printer that goes on works off a full buffer of rows. */
export const drainUs = (profile: Profile): number => {
  const rows = Math.ceil(profile.bufferBytes / Math.ceil(profile.widthDots / 8));
  return Math.ceil(rows * Math.max(motorLineUs(profile), heatingLineUs(profile.widthDots, profile.head)));
};
