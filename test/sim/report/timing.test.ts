import { describe, expect, it } from 'vitest';
import { lanesOf } from '../../../sim/report/lanes.ts';
import { timingSvg } from '../../../sim/report/timing.ts';
import { createTraces } from '../../../sim/traces.ts';
import { handmadeParty } from './fixture.ts';

const tracesOf = (
  samples: readonly (readonly [number, Parameters<ReturnType<typeof createTraces>['record']>[0], number | string])[],
) => {
  let now = 0;
  const traces = createTraces(() => now);
  for (const [atUs, name, value] of samples) {
    now = atUs;
    traces.record(name, value);
  }
  return traces;
};

/** Corner points of a lane's line, µs and value, read back from the picture. */
const pathOf = (svg: string, label: string) => {
  const group = new RegExp(`<title>${label}</title>[\\s\\S]*?<path class="line" d="([^"]+)"`).exec(svg)?.[1] ?? '';
  const points: [number, number][] = [];
  let x = 0;
  let y = 0;
  for (const [, letter, a, b] of group.matchAll(/([MHV])([\d.]+)(?: ([\d.]+))?/g)) {
    if (letter === 'V') y = Number(a);
    else x = Number(a);
    if (letter === 'M') y = Number(b);
    points.push([x, y]);
  }
  return points;
};

describe('lanes', () => {
  it('parts the states by region', () => {
    const { lanes } = lanesOf(
      tracesOf([
        [0, 'state', 'exposure.ready output.idle'],
        [5, 'state', 'exposure.firing output.idle'],
      ]),
    );
    expect(lanes.map(({ label, atUs, values }) => ({ label, atUs, values })).slice(0, 2)).toEqual([
      { label: 'exposure', atUs: [0, 5], values: ['ready', 'firing'] },
      { label: 'output', atUs: [0], values: ['idle'] },
    ]);
  });

  it('keeps the extremes of a trace that is too long', () => {
    const samples = Array.from({ length: 200_000 }, (_, i) => [i, 'head', i === 123_456 ? 999 : i % 10] as const);
    const { lanes } = lanesOf(tracesOf(samples));
    const [head] = lanes;
    expect(head.atUs.length).toBeLessThanOrEqual(50_000);
    expect(head.most).toBe(999);
    expect(head.values).toContain(999);
    expect(head.atUs).toEqual([...head.atUs].sort((a, b) => a - b));
  });

  it('leaves out parts that said nothing', () => {
    expect(lanesOf(tracesOf([[3, 'coil', 1]])).lanes.map(({ name }) => name)).toEqual(['coil']);
    expect(lanesOf(tracesOf([])).lanes).toEqual([]);
  });
});

describe('timing.svg', () => {
  it('draws a pulse where it was, to a hundredth of a pixel', () => {
    const svg = timingSvg(
      tracesOf([
        [250_000, 'coil', 1],
        [500_000, 'coil', 0],
      ]),
      { title: 't', fromUs: 0, toUs: 1e6, widthPx: 1120 },
    );
    // 104 pixels of names, 16 at the right: 1,000 pixels are a second.
    const corners = pathOf(svg, 'coil');
    expect(corners.map(([x]) => x)).toEqual([104, 354, 354, 604, 604, 1104]);
    const ys = corners.map(([, y]) => y);
    expect(ys[2]).toBe(ys[1] - 26);
    expect(ys[4]).toBe(ys[0]);
  });

  it('shows that something happened even where many pulses share a pixel', () => {
    const pulses = Array.from({ length: 200 }, (_, i) => [500_000 + i, 'coil', 1 - (i % 2)] as const);
    const svg = timingSvg(tracesOf([...pulses, [900_000, 'lamp', 1]]), {
      title: 't',
      fromUs: 0,
      toUs: 1e6,
      widthPx: 1120,
    });
    const ys = pathOf(svg, 'coil').map(([, y]) => y);
    expect(Math.max(...ys) - Math.min(...ys)).toBe(26);
    expect(ys.length).toBeLessThan(12);
  });

  it('stays of a size that can be opened, for a long party', () => {
    const samples = Array.from({ length: 60_000 }, (_, i) => [i * 20_000, 'head', (i * 37) % 384] as const);
    const svg = timingSvg(tracesOf(samples), { title: 'long' });
    expect(svg.length).toBeLessThan(2e6);
    expect(/width="(\d+)"/.exec(svg)?.[1]).toBe('8000');
  });

  it('is well-formed, has a time axis and names every lane and fault', () => {
    const { traces } = handmadeParty();
    const svg = timingSvg(traces, { title: 'a < b & "c"' });
    const open = svg.match(/<(g|text|title|svg|style)\b/g)?.length;
    const closed = svg.match(/<\/(g|text|title|svg|style)>/g)?.length;
    // A path with a title inside is not closed by itself.
    const paths = (svg.match(/<path\b/g)?.length ?? 0) - (svg.match(/<path[^>]*\/>/g)?.length ?? 0);
    expect(closed).toBe(open);
    expect(svg.match(/<\/path>/g)?.length).toBe(paths);
    expect(svg).not.toContain('a < b');
    for (const label of [
      'button',
      'coil',
      'blades',
      'frames',
      'head',
      'paper',
      'motor in',
      'motor out',
      'lamp',
      'exposure',
    ])
      expect(svg).toContain(`>${label}</text>`);
    expect(svg).toContain('>10 s</text>');
    expect(svg).toContain('>paper out</text>');
    expect(svg).toContain('prefers-color-scheme:dark');
    expect(svg).not.toMatch(/NaN|Infinity|undefined/);
  });
});
