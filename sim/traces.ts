/** What the virtual parts did, written down by the parts themselves: the judge of every promise. Times in µs. */
export interface TraceSample {
  atUs: number;
  value: number | string;
}

/**
 * Names in use: `button` 0/1 raw contact, `coil` 0/1, `blades` 0/1 crossing the lens, `frame` sequence number,
 * `head` dots heated in a line, `paper` dot lines moved so far, `lamp` 0/1, `lamp-pattern` name, `motor-in` 0/1,
 * `motor-out` 0/1, `supply` volts, `fault` what was done to the rig, `state` the machine’s states, `coil-limit` µs on
 * when the coil's own guard had to act (0: a pulse was refused), `develop` "shot sequence" handed to the darkroom, `coil-unmoved` a
 * stroke that was asked for and couldn't be driven.
 */
export type TraceName =
  | 'button'
  | 'coil'
  | 'blades'
  | 'frame'
  | 'head'
  | 'paper'
  | 'lamp'
  | 'lamp-pattern'
  | 'motor-in'
  | 'motor-out'
  | 'supply'
  | 'fault'
  | 'state'
  | 'coil-limit'
  | 'develop'
  | 'coil-unmoved';

export interface Traces {
  record(name: TraceName, value: number | string): void;
  of(name: TraceName): readonly TraceSample[];
}

export const createTraces = (nowUs: () => number): Traces => {
  const all = new Map<TraceName, TraceSample[]>();
  return {
    record(name, value) {
      const samples = all.get(name);
      if (samples) samples.push({ atUs: nowUs(), value });
      else all.set(name, [{ atUs: nowUs(), value }]);
    },
    of: name => all.get(name) ?? [],
  };
};
