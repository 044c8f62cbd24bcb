/**
 * Fits the network of `src/gather/restore.ts` on invented pictures and writes `src/gather/restore-weights.json`.
 * `npm run train` takes a quarter of an hour on one core. Adam (Kingma and Ba, 2015), mean squared error.
 */
import { readFileSync, writeFileSync } from 'node:fs';
import { chance } from '../../../sim/random.ts';
import { defaultProfile } from '../../../src/config/profile.ts';
import { defaultConfig, type Look, lookSchema } from '../../../src/config/schema.ts';
import { type Layer, leak, marginOf } from '../../../src/gather/network.ts';
import { bareShare, viewsOf } from '../../../src/gather/restore.ts';
import { createDeveloper } from '../../../src/picture/develop.ts';
import { deadLeaves } from './dead-leaves.ts';
import { forward } from './plain-net.ts';

const [channels, pictures, steps] = [10, 26, Number(process.argv[2] ?? 9000)];
const [width, height] = [384, 512];
const draw = chance(process.argv[3] === 'on' ? 10 : 9);

const fresh = (inputs: number, outputs: number, side: number, spread: number) => ({
  inputs,
  outputs,
  side,
  kernel: Float32Array.from({ length: inputs * outputs * side * side }, () => draw.normal() * spread),
  bias: new Float32Array(outputs),
});
type Fresh = ReturnType<typeof fresh>;
const spreadOf = (inputs: number, side: number) => Math.sqrt(2 / (inputs * side * side));
const layers: Fresh[] = [
  fresh(3, channels, 5, spreadOf(3, 5)),
  fresh(channels, channels, 3, spreadOf(channels, 3)),
  fresh(channels, channels, 3, spreadOf(channels, 3)),
  fresh(channels, 1, 3, 0),
];
// `on` as second argument goes on from the weights that are there, gently.
const goesOn = process.argv[3] === 'on';
if (goesOn) {
  const known = JSON.parse(readFileSync('src/gather/restore-weights.json', 'utf8')) as { layers: Fresh[] };
  layers.forEach((layer, k) => {
    layer.kernel.set(known.layers[k].kernel);
    layer.bias.set(known.layers[k].bias);
  });
}
const margin = marginOf(layers);

const developerOf = (halftone: Look['halftone']) =>
  createDeveloper({
    picture: defaultConfig().picture,
    look: lookSchema.parse({ halftone, levels: 0, localContrast: 0, sharpen: 0 }),
    profile: defaultProfile(),
    cameraName: 'train',
  });
const developers = [
  developerOf('search'),
  developerOf('search'),
  developerOf('search'),
  developerOf('floyd-steinberg'),
];
const examples = Array.from({ length: pictures }, (_, index) => {
  const tone = deadLeaves(width, height, draw);
  const dots = developers[index % developers.length].developLuma(
    { widthPx: width, heightPx: height, data: Uint8Array.from(tone, v => Math.round(v * 255)) },
    { shot: 1, takenAtMs: null },
  );
  return { tone, views: viewsOf(bareShare(dots, defaultProfile().dotRadius)) };
});

const patch = 40;
const side = patch + 2 * margin;
const batch = 4;

/** Gradient of one layer into `gradient`, and back to its input. */
const backward = (
  input: Float32Array,
  w: number,
  h: number,
  layer: Layer,
  above: Float32Array,
  gradient: { kernel: Float32Array; bias: Float32Array },
) => {
  const { inputs, outputs, side: k } = layer;
  const [ow, oh] = [w - k + 1, h - k + 1];
  const below = new Float32Array(inputs * w * h);
  for (let o = 0; o < outputs; o++) {
    const plane = o * ow * oh;
    for (let i = plane; i < plane + ow * oh; i++) gradient.bias[o] += above[i];
    for (let i = 0; i < inputs; i++)
      for (let ky = 0; ky < k; ky++)
        for (let kx = 0; kx < k; kx++) {
          const at = ((o * inputs + i) * k + ky) * k + kx;
          const weight = layer.kernel[at];
          let sum = 0;
          for (let y = 0; y < oh; y++) {
            let from = (i * h + y + ky) * w + kx;
            let to = plane + y * ow;
            for (const end = to + ow; to < end; from++) {
              const g = above[to++];
              sum += g * input[from];
              below[from] += weight * g;
            }
          }
          gradient.kernel[at] += sum;
        }
  }
  return below;
};

const moments = layers.map(layer => ({
  kernel: [new Float32Array(layer.kernel.length), new Float32Array(layer.kernel.length)],
  bias: [new Float32Array(layer.bias.length), new Float32Array(layer.bias.length)],
}));

for (let step = 1; step <= steps; step++) {
  const rate =
    (goesOn ? 0.0006 : 0.003) * Math.min(1, step / 100) * (step > steps * 0.85 ? 0.06 : step > steps * 0.55 ? 0.3 : 1);
  const gradients = layers.map(layer => ({
    kernel: new Float32Array(layer.kernel.length),
    bias: new Float32Array(layer.bias.length),
  }));
  let loss = 0;
  for (let b = 0; b < batch; b++) {
    const { tone, views } = examples[draw.whole(0, pictures - 1)];
    const [left, top, symmetry] = [draw.whole(0, width - side), draw.whole(0, height - side), draw.whole(0, 7)];
    const at = (x: number, y: number) => {
      let [u, v] = symmetry & 4 ? [y, x] : [x, y];
      if (symmetry & 1) u = side - 1 - u;
      if (symmetry & 2) v = side - 1 - v;
      return (top + v) * width + left + u;
    };
    const input = new Float32Array(views.length * side * side);
    views.forEach((view, v) => {
      for (let y = 0; y < side; y++) for (let x = 0; x < side; x++) input[(v * side + y) * side + x] = view[at(x, y)];
    });
    const planes = forward(input, side, side, layers);
    let above: Float32Array = new Float32Array(patch * patch);
    for (let y = 0; y < patch; y++)
      for (let x = 0; x < patch; x++) {
        const soft = input[(2 * side + y + margin) * side + x + margin] + 0.5;
        const error = planes[layers.length][y * patch + x] + soft - tone[at(x + margin, y + margin)];
        loss += error * error;
        above[y * patch + x] = error / (patch * patch * batch);
      }
    let size = side - 2 * margin;
    for (let k = layers.length - 1; k >= 0; k--) {
      size += layers[k].side - 1;
      const below = backward(planes[k], size, size, layers[k], above, gradients[k]);
      for (let i = 0; i < below.length; i++) if (planes[k][i] < 0) below[i] *= leak;
      above = below;
    }
  }
  const [keep1, keep2] = [0.9, 0.99];
  const move = (values: Float32Array, gradient: Float32Array, [first, second]: Float32Array[]) => {
    for (let i = 0; i < values.length; i++) {
      first[i] = keep1 * first[i] + (1 - keep1) * gradient[i];
      second[i] = keep2 * second[i] + (1 - keep2) * gradient[i] ** 2;
      values[i] -= (rate * first[i]) / (1 - keep1 ** step) / (Math.sqrt(second[i] / (1 - keep2 ** step)) + 1e-8);
    }
  };
  layers.forEach((layer, k) => {
    move(layer.kernel, gradients[k].kernel, moments[k].kernel);
    move(layer.bias, gradients[k].bias, moments[k].bias);
  });
  if (step % 500 === 0)
    console.log(`step ${step}: ${(10 * Math.log10((batch * patch * patch) / loss)).toFixed(2)} dB on its own patches`);
}

const round = (values: Float32Array) => Array.from(values, v => Number(v.toPrecision(5)));
writeFileSync(
  'src/gather/restore-weights.json',
  `${JSON.stringify({ layers: layers.map(layer => ({ ...layer, kernel: round(layer.kernel), bias: round(layer.bias) })) })}\n`,
);
