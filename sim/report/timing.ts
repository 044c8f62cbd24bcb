import type { Traces } from '../traces.ts';
import type { Lane } from './lanes.ts';
import { lanesOf } from './lanes.ts';
import { asVariables, day, escapeText, night, roundStep } from './look.ts';

const gutterPx = 104;
const rightPx = 16;
const axisPx = 48;
const laneHeights: Record<Lane['kind'], number> = { level: 26, amount: 52, tick: 22, word: 26 };
const gapPx = 10;

export interface TimingOptions {
  title: string;
  /** Stretch to draw, µs; everything when left out. */
  fromUs?: number;
  toUs?: number;
  widthPx?: number;
}

/** About 30 pixels a second, so that a picture's print fills a hand's breadth, but no wider than viewers like. */
const naturalWidthPx = (spanUs: number): number =>
  Math.round(Math.min(8000, Math.max(1400, gutterPx + rightPx + (spanUs / 1e6) * 30)));

/** Index of the last sample at or before `us`; -1 when there is none. */
const indexAt = (atUs: readonly number[], us: number): number => {
  let low = 0;
  let high = atUs.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (atUs[middle] <= us) low = middle + 1;
    else high = middle;
  }
  return low - 1;
};

/** Timing of all parts over one axis of time, as a logic analyser shows it: SVG that follows light and dark. */
export const timingSvg = (traces: Traces, options: TimingOptions): string => {
  const { lanes, faults, spanUs } = lanesOf(traces);
  const fromUs = options.fromUs ?? 0;
  const toUs = Math.max(fromUs + 1, options.toUs ?? spanUs * 1.01);
  const widthPx = options.widthPx ?? naturalWidthPx(toUs - fromUs);
  const perUs = (widthPx - gutterPx - rightPx) / (toUs - fromUs);
  const x = (us: number) => Math.round((gutterPx + (us - fromUs) * perUs) * 100) / 100;
  const heightPx = axisPx + lanes.reduce((sum, { kind }) => sum + laneHeights[kind] + gapPx, 0) + 30;
  const out: string[] = [];

  const stepUs = roundStep(90 / perUs);
  for (let us = Math.ceil(fromUs / stepUs) * stepUs; us <= toUs; us += stepUs) {
    const label = stepUs >= 1e6 ? `${Math.round(us / 1e6)} s` : `${Number((us / 1000).toPrecision(12))} ms`;
    out.push(`<path class="rule" d="M${x(us)} ${axisPx - 6}V${heightPx - 22}"/>`);
    out.push(`<text class="faint" x="${x(us)}" y="${axisPx - 12}" text-anchor="middle">${label}</text>`);
  }

  /** Steps through a lane's samples, one pixel at a time where there are more: `[x, value]` that are worth drawing. */
  const steps = (lane: Lane): [number, number][] => {
    // Before it said anything a part is off; a voltage is what it first was.
    const start = lane.name === 'supply' ? Number(lane.values[0] ?? 0) : 0;
    const points: [number, number][] = [[gutterPx, start]];
    const first = Math.max(0, indexAt(lane.atUs, fromUs));
    let low = 0;
    let high = 0;
    let px = Number.NEGATIVE_INFINITY;
    const close = () => {
      if (px === Number.NEGATIVE_INFINITY || low === high) return;
      const last = points[points.length - 1][1];
      points.push([px, low], [px, high], [px, last]);
    };
    for (let i = first; i < lane.atUs.length && lane.atUs[i] <= toUs; i++) {
      const value = Number(lane.values[i]);
      const at = Math.max(gutterPx, x(lane.atUs[i]));
      if (at - px < 0.5) {
        low = Math.min(low, value);
        high = Math.max(high, value);
        points[points.length - 1][1] = value;
        continue;
      }
      close();
      low = high = value;
      px = at;
      points.push([at, value]);
    }
    close();
    return points;
  };
  const stepPath = (points: [number, number][], y: (value: number) => number): string => {
    let path = '';
    for (const [px, value] of points) path += path === '' ? `M${px} ${y(value)}` : `H${px}V${y(value)}`;
    return path === '' ? '' : `${path}H${x(toUs)}`;
  };

  let top = axisPx + 6;
  for (const lane of lanes) {
    const height = laneHeights[lane.kind];
    const base = top + height;
    out.push(`<g class="${lane.kind}"><title>${escapeText(lane.label)}</title>`);
    out.push(
      `<text class="name" x="${gutterPx - 12}" y="${top + height / 2 + 4}" text-anchor="end">${escapeText(lane.label)}</text>`,
    );
    out.push(`<path class="rule" d="M${gutterPx} ${base}H${widthPx - rightPx}"/>`);
    if (lane.kind === 'level' || lane.kind === 'amount') {
      const least = lane.name === 'supply' ? Math.floor(lane.least) : 0;
      const most = Math.max(least + 1, lane.most);
      const y = (value: number) => Math.round((base - ((value - least) / (most - least)) * height) * 10) / 10;
      const path = stepPath(steps(lane), y);
      if (path) out.push(`<path class="fill" d="${path}V${base}H${gutterPx}Z"/><path class="line" d="${path}"/>`);
      if (lane.kind === 'amount')
        out.push(`<text class="faint small" x="${gutterPx + 4}" y="${top + 8}">${most} ${lane.unit ?? ''}</text>`);
    } else if (lane.kind === 'tick') {
      let drawn = Number.NEGATIVE_INFINITY;
      let path = '';
      for (const us of lane.atUs) {
        const at = x(us);
        if (us < fromUs || us > toUs || at - drawn < 0.7) continue;
        path += `M${at} ${base}V${top + 4}`;
        drawn = at;
      }
      out.push(`<path class="line" d="${path}"/>`);
    } else {
      for (let i = Math.max(0, indexAt(lane.atUs, fromUs)); i < lane.atUs.length && lane.atUs[i] <= toUs; i++) {
        const left = Math.max(gutterPx, x(lane.atUs[i]));
        const right = x(Math.min(toUs, lane.atUs[i + 1] ?? toUs));
        const word = String(lane.values[i]);
        if (right - left < 0.4) continue;
        out.push(
          `<path class="word-box" d="M${left} ${base - 2}V${top + 2}H${right}V${base - 2}Z"><title>${escapeText(word)}</title></path>`,
        );
        if (right - left > word.length * 6.4 + 8)
          out.push(`<text class="word-text" x="${left + 5}" y="${top + height / 2 + 4}">${escapeText(word)}</text>`);
      }
    }
    out.push('</g>');
    top = base + gapPx;
  }

  let freeFrom = 0;
  for (const { atUs, what } of faults) {
    if (atUs < fromUs || atUs > toUs) continue;
    out.push(
      `<path class="fault" d="M${x(atUs)} ${axisPx - 4}V${heightPx - 18}"><title>${escapeText(what)}</title></path>`,
    );
    if (x(atUs) < freeFrom) continue;
    out.push(`<text class="fault-text" x="${x(atUs) + 3}" y="${heightPx - 6}">${escapeText(what)}</text>`);
    freeFrom = x(atUs) + what.length * 6.4 + 12;
  }

  const style = `
svg{${asVariables(day)}background:var(--ground)}
@media (prefers-color-scheme:dark){svg{${asVariables(night)}}}
text{font:12px ui-monospace,monospace;fill:var(--ink)}
.title{font-size:13px;font-weight:600}.faint{fill:var(--faint);font-size:11px}.small{font-size:10px}
.rule{stroke:var(--rule);fill:none}.line{fill:none;stroke-width:1.2}.fill{stroke:none;opacity:.16}
.level .line{stroke:var(--level)}.level .fill{fill:var(--level)}
.amount .line{stroke:var(--amount)}.amount .fill{fill:var(--amount)}
.tick .line{stroke:var(--tick)}
.word-box{fill:var(--raised);stroke:var(--word)}.word-text{fill:var(--word);font-size:11px}
.fault{stroke:var(--fault);stroke-dasharray:3 3;fill:none}.fault-text{fill:var(--fault);font-size:11px}`;
  return `<svg xmlns="http://www.w3.org/2000/svg" width="${widthPx}" height="${heightPx}" viewBox="0 0 ${widthPx} ${heightPx}" role="img">
<title>${escapeText(options.title)}</title><style>${style}</style>
<rect width="${widthPx}" height="${heightPx}" fill="var(--ground)"/>
<text class="title" x="12" y="16">${escapeText(options.title)}</text>
${out.join('\n')}
</svg>
`;
};
