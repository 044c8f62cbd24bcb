import type { PixelFormat } from '../../parts/webcam.ts';

const bytesPerPixel: Record<'YUYV' | 'GREY', number> = { YUYV: 2, GREY: 1 };
/** How far before the end of the buffer a JPEG's end may lie; some webcams pad. */
const paddingBytes = 4096;

const endsIn = (bytes: Uint8Array): boolean => {
  const least = Math.max(2, bytes.length - paddingBytes);
  for (let at = bytes.length - 1; at >= least; at--) if (bytes[at] === 0xd9 && bytes[at - 1] === 0xff) return true;
  return false;
};

/**
 * Whether a frame was transferred whole: raw ones by their length, JPEG by its start and end (ITU-T T.81: SOI, EOI).
 * `marked`: it has an end mark. Some webcams never write one, so its lack counts only after one was seen (`endsMarked`).
 */
export const looksWhole = (
  {
    format,
    strideBytes,
    widthPx,
    heightPx,
  }: { format: PixelFormat; strideBytes: number; widthPx: number; heightPx: number },
  bytes: Uint8Array,
  endsMarked: boolean,
): { whole: boolean; marked: boolean } => {
  if (format !== 'MJPEG') {
    const lastRowBytes = widthPx * bytesPerPixel[format];
    return { whole: bytes.length >= strideBytes * (heightPx - 1) + lastRowBytes, marked: false };
  }
  if (bytes[0] !== 0xff || bytes[1] !== 0xd8) return { whole: false, marked: false };
  const marked = endsIn(bytes);
  return { whole: marked || !endsMarked, marked };
};
