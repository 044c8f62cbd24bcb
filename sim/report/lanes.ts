import type { TraceName, TraceSample, Traces } from '../traces.ts';

/**
 * One line of the timing picture. `level`: 0 or 1 between samples; `amount`: any number, held until the next sample;
 * `tick`: a moment each; `word`: a text, held until the next.
 */
export interface Lane {
  name: string;
  label: string;
  kind: 'level' | 'amount' | 'tick' | 'word';
  unit?: string;
  /** µs, rising. */
  atUs: number[];
  values: (number | string)[];
  /** Largest and smallest number of an `amount`. */
  most: number;
  least: number;
}

interface FaultMark {
  atUs: number;
  what: string;
}

export interface Lanes {
  lanes: Lane[];
  faults: FaultMark[];
  /** End of the last sample. */
  spanUs: number;
}

const wanted: readonly { name: TraceName; label: string; kind: Lane['kind']; unit?: string }[] = [
  { name: 'button', label: 'button', kind: 'level' },
  { name: 'coil', label: 'coil', kind: 'level' },
  { name: 'blades', label: 'blades', kind: 'level' },
  { name: 'frame', label: 'frames', kind: 'tick' },
  { name: 'develop', label: 'darkroom', kind: 'tick' },
  { name: 'head', label: 'head', kind: 'amount', unit: 'dots' },
  { name: 'paper', label: 'paper', kind: 'amount', unit: 'lines' },
  { name: 'motor-in', label: 'motor in', kind: 'level' },
  { name: 'motor-out', label: 'motor out', kind: 'level' },
  { name: 'lamp', label: 'lamp', kind: 'level' },
  { name: 'lamp-pattern', label: 'lamp says', kind: 'word' },
  { name: 'supply', label: 'supply', kind: 'amount', unit: 'V' },
  { name: 'coil-limit', label: 'coil guard', kind: 'tick' },
];

/** Long parties keep the outline of a trace: of each bucket its first sample and its extremes, in order. */
const mostSamples = 40_000;
const outlined = (samples: readonly TraceSample[]): readonly TraceSample[] => {
  if (samples.length <= mostSamples) return samples;
  const bucket = Math.ceil((4 * samples.length) / mostSamples);
  const kept: TraceSample[] = [];
  for (let from = 0; from < samples.length; from += bucket) {
    const slice = samples.slice(from, from + bucket);
    const byValue = (pick: (a: number, b: number) => number) =>
      slice.reduce((best, now, i) => (pick(Number(now.value), Number(slice[best].value)) > 0 ? i : best), 0);
    const indices = new Set([0, byValue((a, b) => a - b), byValue((a, b) => b - a), slice.length - 1]);
    kept.push(...[...indices].sort((a, b) => a - b).map(i => slice[i]));
  }
  return kept;
};

const laneOf = (name: string, label: string, kind: Lane['kind'], all: readonly TraceSample[], unit?: string): Lane => {
  const samples = outlined(all);
  const values = samples.map(({ value }) =>
    kind === 'word' ? String(value) : kind === 'tick' ? value : Number(value),
  );
  let most = 0;
  let least = Number.POSITIVE_INFINITY;
  for (const value of values) {
    if (typeof value !== 'number') continue;
    if (value > most) most = value;
    if (value < least) least = value;
  }
  if (least === Number.POSITIVE_INFINITY) least = 0;
  return { name, label, kind, unit, atUs: samples.map(({ atUs }) => Math.round(atUs)), values, most, least };
};

/** `state` samples name regions with their state: "output.printing", several apart by blanks; a lane a region. */
const stateLanes = (samples: readonly TraceSample[]): Lane[] => {
  const regions = new Map<string, TraceSample[]>();
  for (const { atUs, value } of samples)
    for (const token of String(value).split(/[\s,;|]+/)) {
      const [, region = 'machine', state = token] = /^([^.:=]+)[.:=](.+)$/.exec(token) ?? [];
      const list = regions.get(region) ?? [];
      if (list.at(-1)?.value !== state) list.push({ atUs, value: state });
      regions.set(region, list);
    }
  // The button is a part, and a region of the machine too.
  const isPart = (region: string) => wanted.some(({ label }) => label === region);
  return [...regions].map(([region, list]) =>
    laneOf(`state-${region}`, isPart(region) ? `${region} is` : region, 'word', list),
  );
};

/** Everything that the virtual parts wrote down, as lanes from top to bottom; parts that said nothing have none. */
export const lanesOf = (traces: Traces): Lanes => {
  const lanes = [
    ...stateLanes(traces.of('state')),
    ...wanted
      .filter(({ name }) => traces.of(name).length > 0)
      .map(({ name, label, kind, unit }) => laneOf(name, label, kind, traces.of(name), unit)),
  ];
  const faults = traces.of('fault').map(({ atUs, value }) => ({ atUs: Math.round(atUs), what: String(value) }));
  const ends = [...lanes.map(lane => lane.atUs.at(-1) ?? 0), ...faults.map(fault => fault.atUs)];
  return { lanes, faults, spanUs: Math.max(1, ...ends) };
};
