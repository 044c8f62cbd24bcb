import type { PixelFormat } from '../src/parts/webcam.ts';
import { encodeJpeg } from './mjpeg.ts';
import { chance } from './random.ts';
import type { Scene } from './view.ts';

export interface SensorFigures {
  format: PixelFormat;
  widthPx: number;
  heightPx: number;
  huffmanTables: boolean;
  seed: number;
  /** How the webcam sits in the body, clockwise degrees: an upright scene arrives turned the other way. */
  turn: 0 | 90 | 180 | 270;
}

export interface Sensor {
  /** Advances automatic exposure by a frame; returns that frame's exposure, µs. */
  expose(brightness: number, periodUs: number): number;
  setting(): { gain: number };
  /** Exposure begins from scratch. */
  forget(): void;
  /** Exposure has settled to this light. */
  settle(brightness: number, periodUs: number): void;
  /** Light to bytes. `dark` is the part of the exposure that the blades were before the lens, 0…1. */
  develop(scene: Scene, atUs: number, gain: number, dark: number, sequence: number): Uint8Array;
}

/** Mean of the picture that exposure aims at: middle grey, 18 % (common practice, no source). */
const middleGrey = 0.18;
/** Part of the error, in stops, that one frame mends. */
const adaptation = 0.35;
/** Exposure time: its longest part of a frame, and its shortest. */
const longestPart = 0.95;
const shortestUs = 200;
/** Electrons at saturation at the least gain, and read noise: a small invented sensor. */
const fullWell = 6000;
const readNoise = 8;
/** Lamp light is warm; luma alone is printed, so one colour for the whole frame is enough. */
const colour = { cb: 118, cr: 137 };

const levels = 4096;
/** sRGB (IEC 61966-2-1), linear light to code 0…255. */
const encodeLight = Uint8Array.from({ length: levels }, (_, i) => {
  const light = i / (levels - 1);
  return Math.round(255 * (light <= 0.0031308 ? 12.92 * light : 1.055 * light ** (1 / 2.4) - 0.055));
});
/** Full range to limited range, 16…235 (ITU-R BT.601). */
const limited = Uint8Array.from({ length: 256 }, (_, code) => Math.round(16 + (code * 219) / 255));

const noiseCount = 1 << 16;
let noiseTable: Float32Array | null = null;
const noise = (): Float32Array => {
  if (!noiseTable) {
    const luck = chance(0x51e1d);
    noiseTable = Float32Array.from({ length: noiseCount }, () => luck.normal());
  }
  return noiseTable;
};

/** The wedge of light that two blades leave open, as a factor on the light that comes through while they cross. */
const bladeShade = (x: number, y: number): number => {
  const edge = Math.abs(x - 0.5 + 0.25 * (y - 0.5));
  return Math.min(1, Math.max(0, (0.1 - edge) / 0.04));
};

export const createSensor = (figures: SensorFigures): Sensor => {
  const { format, widthPx, heightPx } = figures;
  const pixels = widthPx * heightPx;
  let light: Float32Array | null = null;
  let upright: Float32Array | null = null;
  /** Product of exposure time and analogue gain, 1 = a whole frame period at least gain. */
  let exposure = 1;

  const sigma = (gain: number, scale: number) => {
    const electrons = fullWell / Math.max(0.1, gain);
    return Float32Array.from({ length: levels }, (_, i) => {
      const signal = (i / (levels - 1)) * electrons;
      return ((Math.sqrt(signal + readNoise ** 2) * scale) / electrons) * (levels - 1);
    });
  };
  const wantedFor = (brightness: number) => Math.min(24, Math.max(0.02, middleGrey / Math.max(1e-4, brightness)));

  const lookTurned = (scene: Scene, atUs: number, into: Float32Array) => {
    if (figures.turn === 0) return scene.look(atUs, widthPx, heightPx, into);
    const sideways = figures.turn !== 180;
    const [uprightWidth, uprightHeight] = sideways ? [heightPx, widthPx] : [widthPx, heightPx];
    upright ??= new Float32Array(pixels);
    scene.look(atUs, uprightWidth, uprightHeight, upright);
    for (let y = 0; y < heightPx; y++) {
      for (let x = 0; x < widthPx; x++) {
        // Where clockwise turning by `turn` will bring this pixel.
        const [ux, uy] =
          figures.turn === 90
            ? [heightPx - 1 - y, x]
            : figures.turn === 180
              ? [widthPx - 1 - x, heightPx - 1 - y]
              : [y, widthPx - 1 - x];
        into[y * widthPx + x] = upright[uy * uprightWidth + ux];
      }
    }
  };

  const luma = (scene: Scene, atUs: number, gain: number, dark: number, sequence: number): Uint8Array => {
    light ??= new Float32Array(pixels);
    lookTurned(scene, atUs, light);
    const table = noise();
    const luck = chance(figures.seed).fork(`frame ${sequence} ${atUs}`);
    const spread = sigma(gain, scene.noise);
    const out = new Uint8Array(pixels);
    for (let y = 0; y < heightPx; y++) {
      let grain = luck.whole(0, noiseCount - 1);
      for (let x = 0; x < widthPx; x++) {
        const i = y * widthPx + x;
        let value = light[i] * gain;
        if (dark > 0) value *= 1 - dark * (1 - bladeShade(x / widthPx, y / heightPx));
        const level = value < 1 ? value * (levels - 1) : levels - 1;
        grain = (grain + 1) & (noiseCount - 1);
        const noisy = level + table[grain] * spread[level | 0] + 0.5;
        out[i] = encodeLight[noisy < 0 ? 0 : noisy < levels ? noisy | 0 : levels - 1];
      }
    }
    return out;
  };

  const pack = (full: Uint8Array): Uint8Array => {
    if (format === 'GREY') return full;
    if (format === 'MJPEG')
      return encodeJpeg(full, widthPx, heightPx, colour, { huffmanTables: figures.huffmanTables });
    const out = new Uint8Array(pixels * 2);
    for (let i = 0; i < pixels; i++) {
      out[2 * i] = limited[full[i]];
      out[2 * i + 1] = i % 2 === 0 ? colour.cb : colour.cr;
    }
    return out;
  };

  return {
    expose(brightness, periodUs) {
      const wanted = wantedFor(brightness);
      exposure *= (wanted / exposure) ** adaptation;
      return Math.min(longestPart * periodUs, Math.max(shortestUs, exposure * periodUs));
    },
    setting: () => ({ gain: exposure }),
    forget() {
      exposure = 1;
    },
    settle(brightness) {
      exposure = wantedFor(brightness);
    },
    develop: (scene, atUs, gain, dark, sequence) => pack(luma(scene, atUs, scene.metered ? gain : 1, dark, sequence)),
  };
};
