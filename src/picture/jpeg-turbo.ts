import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { Instance, Module, type WasmMemory, type WasmModule } from './web-assembly.ts';

/** What the package's WebAssembly exports of libjpeg-turbo's TurboJPEG interface; pointers are offsets in its memory. */
interface TurboJpeg {
  memory: WasmMemory;
  malloc(bytes: number): number;
  free(at: number): void;
  tjInitDecompress(): number;
  tjDecompressHeader3(
    decoder: number,
    from: number,
    bytes: number,
    width: number,
    height: number,
    sampling: number,
    space: number,
  ): number;
  tjDecompress2(
    decoder: number,
    from: number,
    bytes: number,
    to: number,
    width: number,
    pitch: number,
    height: number,
    format: number,
    flags: number,
  ): number;
}

/** TurboJPEG's pixel formats: number, and bytes of a pixel. */
const formats = { grey: [6, 1], rgba: [7, 4] } as const;

const imports = {
  env: {
    setjmp: () => 0,
    // How libjpeg reports what it can't go on from.
    longjmp() {
      throw new Error('damaged beyond what the decoder can bear');
    },
  },
  wasi_snapshot_preview1: Object.fromEntries(
    ['environ_sizes_get', 'environ_get', 'proc_exit', 'fd_close', 'fd_seek', 'fd_write'].map(name => [name, () => 0]),
  ),
};

/** Memory of this size and over is let go after the picture: WebAssembly's never shrinks. */
const keptBytes = 32e6;

let compiled: WasmModule | null = null;
let loaded: { turbo: TurboJpeg; decoder: number } | null = null;

const load = () => {
  compiled ??= new Module(readFileSync(createRequire(import.meta.url).resolve('@cwasm/jpeg-turbo/jpeg-turbo.wasm')));
  const turbo = new Instance(compiled, imports).exports as TurboJpeg;
  return { turbo, decoder: turbo.tjInitDecompress() };
};

export interface Decoded {
  widthPx: number;
  heightPx: number;
  /** Rows without gaps. Lies in the decoder's memory: good until the next picture is decoded. */
  data: Uint8Array;
}

/**
 * Decodes a JPEG. Asked for grey, the decoder leaves colour out: its luma is what the stream holds, and nearly half of the
 * time. Throws an `Error` with the decoder's reason.
 */
export const decodeTurbo = (jpeg: Uint8Array, format: keyof typeof formats): Decoded => {
  loaded ??= load();
  const { turbo, decoder } = loaded;
  const [code, pixelBytes] = formats[format];
  let done = false;
  try {
    const from = turbo.malloc(jpeg.length);
    new Uint8Array(turbo.memory.buffer, from, jpeg.length).set(jpeg);
    const sizes = turbo.malloc(16);
    if (turbo.tjDecompressHeader3(decoder, from, jpeg.length, sizes, sizes + 4, sizes + 8, sizes + 12) !== 0)
      throw new Error('its header is damaged');
    const [widthPx, heightPx] = new Uint32Array(turbo.memory.buffer, sizes, 2);
    const bytes = widthPx * heightPx * pixelBytes;
    const to = turbo.malloc(bytes);
    if (to === 0) throw new Error('there is not enough memory');
    const failed = turbo.tjDecompress2(
      decoder,
      from,
      jpeg.length,
      to,
      widthPx,
      widthPx * pixelBytes,
      heightPx,
      code,
      0,
    );
    if (failed !== 0) throw new Error('its data is damaged');
    // What is freed keeps its bytes until something else is asked for.
    for (const at of [from, sizes, to]) turbo.free(at);
    done = true;
    return { widthPx, heightPx, data: new Uint8Array(turbo.memory.buffer, to, bytes) };
  } finally {
    // A decoder that broke off has its memory in disorder.
    if (!done || turbo.memory.buffer.byteLength >= keptBytes) loaded = null;
  }
};
