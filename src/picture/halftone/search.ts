import { coverageOfPatterns } from '../dot-gain.ts';
import { eyeCorrelation, eyeGaussians } from '../eye.ts';
import { createKernels, roomFor } from '../kernels.ts';
import type { Bitmap } from './bits.ts';

/**
 * Direct binary search (Analoui and Allebach, 1992) on the dots as they print: round, overlapping. Dots are turned and
 * exchanged with neighbours as long as what the eye sees of the difference between paper and wanted ink gets smaller.
 *
 * It works down the picture in strips of rows: the first pass goes a strip ahead, the others follow it there one after the
 * other. The upper rows are final while the lower ones haven't been looked at: a printer can begin with them.
 */

const reach = 6;
const side = 2 * reach + 1;
const pad = reach + 2;
/** Floats from row to row in the eye's table: whole fours. */
const tableRow = 16;
/** Rows of a strip: those of a block, so that the first rows are soon final. */
export const stripRows = 8;
/** A change must be worth this much, or rounding errors would keep dots turning for ever. */
const worth = -1e-5;

export interface Search {
  /** Takes a picture on: `bitmap` is improved in place, `ink` is what is wanted on paper, 0…1. */
  begin(bitmap: Bitmap, ink: Float32Array): void;
  /** Works on the next strip; says how many rows from the top are final now. */
  step(): number;
}

/** What turning the dot at place k of a cell's pattern does to the cell's share of ink: [k · 512 + pattern]. */
const changesOf = (coverage: Float32Array): Float32Array =>
  Float32Array.from({ length: 9 * 512 }, (_, i) => coverage[(i & 511) ^ (1 << (i >> 9))] - coverage[i & 511]);

/** Everything that the search keeps for pictures of one size, in its kernels' memory. */
const layOut = (width: number, height: number, passes: number) => {
  const cells = (width + 2 * pad) * (height + 2 * pad);
  const blocks = ((width + 7) >> 3) * ((height + 7) >> 3);
  const kernels = createKernels(
    roomFor(1, width * height, 2 * cells, ...Array.from({ length: passes + 1 }, () => blocks)) +
      roomFor(4, width * height, cells + 16, width + 4 * reach + 4, width + 2 * reach + 4) +
      roomFor(4, 512, 9 * 512, side * tableRow, tableRow, tableRow, tableRow, tableRow),
  );
  return {
    kernels,
    bits: kernels.bytes(width * height),
    wanted: kernels.floats(width * height),
    patterns: kernels.bytes(2 * cells),
    /** Difference to the wanted ink as the eye correlates it. */
    seen: kernels.floats(cells + 16),
    line: kernels.floats(width + 4 * reach + 4),
    smooth: kernels.floats(width + 2 * reach + 4),
    /** Where dots were turned in the pass before, in blocks of 8 × 8, and in the pass to come. */
    stirred: Array.from({ length: passes + 1 }, () => kernels.bytes(blocks)),
  };
};

/** @param passes How often each dot is looked at. */
export const createSearch = (radiusDots: number, dotsPerMm: number, passes: number): Search => {
  const coverage = coverageOfPatterns(radiusDots);
  const changes = changesOf(coverage);
  const correlation = new Float32Array(side * tableRow);
  const square = eyeCorrelation(dotsPerMm, reach);
  for (let y = 0; y < side; y++) correlation.set(square.subarray(y * side, (y + 1) * side), y * tableRow);
  const bells = eyeGaussians(dotsPerMm).map(({ weight, sigmaDots }) => {
    const along = Float32Array.from({ length: side }, (_, i) => Math.exp(-((i - reach) ** 2) / (2 * sigmaDots ** 2)));
    return { along, down: along.map(value => value * weight) };
  });

  const prepare = (width: number, height: number) => {
    const layout = layOut(width, height, passes);
    const { kernels } = layout;
    const put = (values: Float32Array) => {
      const at = kernels.floats(values.length);
      at.set(values);
      return at.byteOffset;
    };
    const bellsAt = bells.map(({ along, down }) => ({ along: put(along), down: put(down) }));
    kernels.searchTables(put(coverage), put(changes), put(correlation), worth);
    return { ...layout, width, height, bells: bellsAt };
  };
  let room: ReturnType<typeof prepare> | null = null;
  let bitmap: Bitmap = { width: 0, height: 0, data: new Uint8Array(0) };
  let next = 0;
  /** Rows whose first difference is in `seen`. */
  let counted = 0;

  return {
    begin(picture, ink) {
      bitmap = picture;
      const { width, height, data } = picture;
      if (room?.width !== width || room.height !== height) room = prepare(width, height);
      const { kernels, bits, wanted, patterns, seen, line, smooth, stirred } = room;
      bits.set(data);
      wanted.set(ink);
      kernels.searchOpen(
        width,
        height,
        bits.byteOffset,
        wanted.byteOffset,
        patterns.byteOffset,
        seen.byteOffset,
        line.byteOffset,
        smooth.byteOffset,
      );
      stirred.forEach((blocks, pass) => void blocks.fill(pass === 0 ? 1 : 0));
      next = 0;
      counted = 0;
    },
    step() {
      if (!room) return 0;
      const { kernels, bits, stirred, bells: bellsAt } = room;
      const { width, height, data } = bitmap;
      // A strip ends a row below its final rows, and an exchange and its cells reach two rows further.
      for (const until = Math.min(height, (next + 1) * stripRows + reach + 3); counted < until; counted++) {
        kernels.searchTake(counted);
        if (counted === height - 1) kernels.searchTake(height);
        for (const { along, down } of bellsAt) kernels.searchCount(counted, along, down);
      }
      for (let pass = 0; pass < passes; pass++) {
        const strip = next - Math.min(pass, 1);
        const from = Math.max(1, strip * stripRows + 1);
        const to = Math.min(height - 1, (strip + 1) * stripRows + 1);
        if (from < to) kernels.searchRows(from, to, stirred[pass].byteOffset, stirred[pass + 1].byteOffset);
      }
      const final = Math.min(height, (next - Math.min(passes - 1, 1) + 1) * stripRows);
      next++;
      if (final <= 0) return 0;
      const done = Math.max(0, final - stripRows);
      kernels.searchStore(done, final);
      data.set(bits.subarray(done * width, final * width), done * width);
      return final;
    },
  };
};
