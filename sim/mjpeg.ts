/**
 * A baseline JPEG writer for the virtual webcam: luma with flat colour, 4:2:2 as webcams send it, with or without
 * Huffman tables (UVC frames may leave them out; ITU-T T.81 Annex K's then hold). It shares nothing with the decoder.
 */

/** ITU-T T.81 Table K.1 and K.2, row by row. */
const lumaSteps = [
  16, 11, 10, 16, 24, 40, 51, 61, 12, 12, 14, 19, 26, 58, 60, 55, 14, 13, 16, 24, 40, 57, 69, 56, 14, 17, 22, 29, 51,
  87, 80, 62, 18, 22, 37, 56, 68, 109, 103, 77, 24, 35, 55, 64, 81, 104, 113, 92, 49, 64, 78, 87, 103, 121, 120, 101,
  72, 92, 95, 98, 112, 100, 103, 99,
];
const chromaSteps = [
  17, 18, 24, 47, 99, 99, 99, 99, 18, 21, 26, 66, 99, 99, 99, 99, 24, 26, 56, 99, 99, 99, 99, 99, 47, 66, 99, 99, 99,
  99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99,
  99, 99, 99, 99, 99, 99,
];

/** ITU-T T.81 Tables K.3 to K.6: how many codes of each length 1…16, then the values in order of their codes. */
const dcBits = [
  [0, 1, 5, 1, 1, 1, 1, 1, 1, 0, 0, 0, 0, 0, 0, 0],
  [0, 3, 1, 1, 1, 1, 1, 1, 1, 1, 1, 0, 0, 0, 0, 0],
];
const dcValues = Array.from({ length: 12 }, (_, i) => i);
const acBits = [
  [0, 2, 1, 3, 3, 2, 4, 3, 5, 5, 4, 4, 0, 0, 1, 125],
  [0, 2, 1, 2, 4, 4, 3, 4, 7, 5, 4, 4, 0, 1, 2, 119],
];
const bytesOf = (hex: string) => [...Buffer.from(hex.replace(/\s/g, ''), 'hex')];
const acValues = [
  bytesOf(`
    01020300041105122131410613516107227114328191a1082342b1c11552d1f02433627282090a161718191a25262728292a3435363738393a
    434445464748494a535455565758595a636465666768696a737475767778797a838485868788898a92939495969798999aa2a3a4a5a6a7a8a9
    aab2b3b4b5b6b7b8b9bac2c3c4c5c6c7c8c9cad2d3d4d5d6d7d8d9dae1e2e3e4e5e6e7e8e9eaf1f2f3f4f5f6f7f8f9fa`),
  bytesOf(`
    0001020311040521310612415107617113223281081442 91a1b1c109233352f0156272d10a162434e125f11718191a262728292a3536373839
    3a434445464748494a535455565758595a636465666768696a737475767778797a82838485868788898a92939495969798999aa2a3a4a5a6a7
    a8a9aab2b3b4b5b6b7b8b9bac2c3c4c5c6c7c8c9cad2d3d4d5d6d7d8d9dae2e3e4e5e6e7e8e9eaf2f3f4f5f6f7f8f9fa`),
];

const zigzag = (() => {
  const order: number[] = [];
  for (let sum = 0; sum < 15; sum++) {
    for (let i = 0; i <= sum; i++) {
      const [row, column] = sum % 2 === 0 ? [sum - i, i] : [i, sum - i];
      if (row < 8 && column < 8) order.push(row * 8 + column);
    }
  }
  return Uint8Array.from(order);
})();

interface Codes {
  code: Uint16Array;
  length: Uint8Array;
}
const codesOf = (bits: number[], values: number[]): Codes => {
  const code = new Uint16Array(256);
  const length = new Uint8Array(256);
  let next = 0;
  let at = 0;
  for (let size = 1; size <= 16; size++) {
    for (let i = 0; i < bits[size - 1]; i++) {
      code[values[at]] = next++;
      length[values[at++]] = size;
    }
    next <<= 1;
  }
  return { code, length };
};
const dcCodes = dcBits.map(bits => codesOf(bits, dcValues));
const acCodes = acBits.map((bits, i) => codesOf(bits, acValues[i]));

/** cosine[frequency * 8 + sample] of the forward transform, T.81 A.3.3, with its factors of ½ and 1/√2. */
const cosine = Float64Array.from({ length: 64 }, (_, i) => {
  const frequency = i >> 3;
  return (frequency === 0 ? Math.SQRT1_2 : 1) * 0.5 * Math.cos((((i & 7) * 2 + 1) * frequency * Math.PI) / 16);
});

const transform = (block: Float64Array, spare: Float64Array) => {
  for (let pass = 0; pass < 2; pass++) {
    const [from, to] = pass === 0 ? [block, spare] : [spare, block];
    for (let row = 0; row < 8; row++) {
      for (let frequency = 0; frequency < 8; frequency++) {
        let sum = 0;
        for (let i = 0; i < 8; i++) sum += from[row * 8 + i] * cosine[frequency * 8 + i];
        to[frequency * 8 + row] = sum;
      }
    }
  }
};

const createBitWriter = (capacity: number) => {
  let bytes = new Uint8Array(capacity);
  let length = 0;
  let held = 0;
  let heldBits = 0;
  const byte = (value: number) => {
    if (length + 2 > bytes.length) {
      const larger = new Uint8Array(bytes.length * 2);
      larger.set(bytes);
      bytes = larger;
    }
    bytes[length++] = value;
    return value;
  };
  return {
    byte,
    bits(value: number, count: number) {
      held = (held << count) | (value & ((1 << count) - 1));
      heldBits += count;
      while (heldBits >= 8) {
        heldBits -= 8;
        if (byte((held >> heldBits) & 0xff) === 0xff) byte(0);
      }
      held &= (1 << heldBits) - 1;
    },
    flush() {
      if (heldBits > 0) this.bits(0xff, 8 - heldBits);
    },
    done: () => bytes.slice(0, length),
  };
};
type BitWriter = ReturnType<typeof createBitWriter>;

const sizeOf = (value: number) => 32 - Math.clz32(Math.abs(value));
const writeValue = (to: BitWriter, value: number, size: number) => {
  if (size > 0) to.bits(value < 0 ? value - 1 : value, size);
};

const writeBlock = (to: BitWriter, levels: Int16Array, lastDc: number, kind: 0 | 1): number => {
  const dc = levels[0] - lastDc;
  const dcSize = sizeOf(dc);
  to.bits(dcCodes[kind].code[dcSize], dcCodes[kind].length[dcSize]);
  writeValue(to, dc, dcSize);
  let zeros = 0;
  for (let i = 1; i < 64; i++) {
    const level = levels[i];
    if (level === 0) {
      zeros++;
      continue;
    }
    for (; zeros > 15; zeros -= 16) to.bits(acCodes[kind].code[0xf0], acCodes[kind].length[0xf0]);
    const size = sizeOf(level);
    const symbol = (zeros << 4) | size;
    to.bits(acCodes[kind].code[symbol], acCodes[kind].length[symbol]);
    writeValue(to, level, size);
    zeros = 0;
  }
  if (zeros > 0) to.bits(acCodes[kind].code[0], acCodes[kind].length[0]);
  return levels[0];
};

export interface JpegOptions {
  /** 1…100, the usual scaling of Annex K's tables. */
  quality?: number;
  huffmanTables?: boolean;
}

/** Luma (full range, row by row) with one flat colour, as a baseline JPEG of three components, 4:2:2. */
export const encodeJpeg = (
  luma: Uint8Array,
  widthPx: number,
  heightPx: number,
  colour: { cb: number; cr: number },
  { quality = 85, huffmanTables = true }: JpegOptions = {},
): Uint8Array => {
  const scale = quality < 50 ? 5000 / quality : 200 - 2 * quality;
  const scaled = (steps: number[]) => steps.map(q => Math.min(255, Math.max(1, Math.floor((q * scale + 50) / 100))));
  const steps = [scaled(lumaSteps), scaled(chromaSteps)];
  const to = createBitWriter(widthPx * heightPx);
  const segment = (marker: number, payload: number[]) => {
    for (const value of [0xff, marker, (payload.length + 2) >> 8, (payload.length + 2) & 0xff, ...payload])
      to.byte(value);
  };
  to.byte(0xff);
  to.byte(0xd8);
  for (const i of [0, 1]) segment(0xdb, [i, ...Array.from(zigzag, at => steps[i][at])]);
  const size = [heightPx >> 8, heightPx & 0xff, widthPx >> 8, widthPx & 0xff];
  segment(0xc0, [8, ...size, 3, 1, 0x21, 0, 2, 0x11, 1, 3, 0x11, 1]);
  if (huffmanTables) {
    for (const kind of [0, 1]) {
      segment(0xc4, [kind, ...dcBits[kind], ...dcValues]);
      segment(0xc4, [0x10 | kind, ...acBits[kind], ...acValues[kind]]);
    }
  }
  segment(0xda, [3, 1, 0, 2, 0x11, 3, 0x11, 0, 63, 0]);

  const block = new Float64Array(64);
  const spare = new Float64Array(64);
  const levels = new Int16Array(64);
  const flat = new Int16Array(64);
  const reciprocal = Float64Array.from(zigzag, at => 1 / steps[0][at]);
  const lastDc = [0, 0, 0];
  for (let top = 0; top < heightPx; top += 8) {
    for (let left = 0; left < widthPx; left += 16) {
      for (let half = 0; half < 2; half++) {
        for (let y = 0; y < 8; y++) {
          const row = Math.min(heightPx - 1, top + y) * widthPx;
          for (let x = 0; x < 8; x++) {
            block[y * 8 + x] = luma[row + Math.min(widthPx - 1, left + half * 8 + x)] - 128;
          }
        }
        transform(block, spare);
        for (let i = 0; i < 64; i++) levels[i] = Math.round(block[zigzag[i]] * reciprocal[i]);
        lastDc[0] = writeBlock(to, levels, lastDc[0], 0);
      }
      for (const [i, value] of [colour.cb, colour.cr].entries()) {
        flat[0] = Math.round(((value - 128) * 8) / steps[1][0]);
        lastDc[i + 1] = writeBlock(to, flat, lastDc[i + 1], 1);
      }
    }
  }
  to.flush();
  to.byte(0xff);
  to.byte(0xd9);
  return to.done();
};
