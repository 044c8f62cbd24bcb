import { crc32 as native } from 'node:zlib';

const polynomial = 0xedb88320;
const oneStep = (value: number): number => ((value & 1) === 0 ? value >>> 1 : (value >>> 1) ^ polynomial);
const afterFourSteps = Uint32Array.from({ length: 16 }, (_, value) => oneStep(oneStep(oneStep(oneStep(value)))));

/** So many bytes are reckoned here before node's own is loaded: that costs more than they do, and a start has only such. */
let shortBytes = 8192;

const reckoned = (bytes: Uint8Array): number => {
  let crc = 0xffffffff;
  for (const byte of bytes) {
    crc ^= byte;
    crc = (crc >>> 4) ^ afterFourSteps[crc & 15];
    crc = (crc >>> 4) ^ afterFourSteps[crc & 15];
  }
  return ~crc >>> 0;
};

/** CRC-32 of ISO 3309, as zip and PNG have it. */
export const crc32 = (data: Uint8Array | string): number => {
  if (data.length > shortBytes) return native(data);
  const bytes = typeof data === 'string' ? Buffer.from(data) : data;
  shortBytes -= bytes.length;
  return reckoned(bytes);
};
