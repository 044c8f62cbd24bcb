import { describe, expect, it } from 'vitest';
import { lines, measure, photo, wholeOverPlain } from './table.ts';

// A share of the table that the benchmark prints whole, over shorter pictures.
const chosen = lines.filter(
  ({ bufferBytes, baud, flow }) =>
    (bufferBytes === 256 || bufferBytes === 4096) &&
    [9600, 19_200, 115_200, 230_400, 1_000_000].includes(baud) &&
    (flow !== 'rtscts' || bufferBytes === 256),
);

describe('a picture over a line', () => {
  it.each(chosen)('of $baud baud, $bufferBytes bytes, $flow, to $widthDots dots', line => {
    const r = measure(line, 200);
    expect(r.bytesLost).toBe(0);
    // Rows that no setting can slow down enough make the paper stand; everything else must not.
    if (r.unavoidable === 0) expect(r.starved).toBe(0);
    expect(r.bytesOverPlain).toBeLessThan(1.015);
    expect(r.printUs).toBeLessThan(1.02 * Math.max(r.limitUs, r.leastUs));
  });

  it.each([384, 576])('sends no more for a full photograph of %i dots than plain raster would', widthDots => {
    expect(wholeOverPlain(photo(widthDots, 512))).toBeLessThanOrEqual(1);
  });
});
