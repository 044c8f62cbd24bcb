import type { EventName } from '../../src/console/vocabulary.ts';
import { vocabulary } from '../../src/console/vocabulary.ts';
import type { Traces } from '../traces.ts';
import { lanesOf } from './lanes.ts';
import { asVariables, day, escapeText, night } from './look.ts';
import { viewerScript } from './viewer.ts';

/** A line of the log as it was written; `atUs` overrides `mono` where a board's clock started later than the traces. */
export interface LogLine {
  level: number | string;
  event: string;
  mono?: number;
  atUs?: number;
  shot?: number;
  [field: string]: unknown;
}

/** Where a picture lies on the strip's image, and when it was printed. */
interface StripPicture {
  shot: number;
  leftPx: number;
  topPx: number;
  widthPx: number;
  heightPx: number;
  /** First and last dot, µs on the traces' clock. */
  atUs: number;
  untilUs: number;
}

export interface ReportStrip {
  /** Name of the image beside the page, or a data URL. */
  src: string;
  widthPx: number;
  heightPx: number;
  pictures: readonly StripPicture[];
  /** What couldn't be shown, in words. */
  note?: string;
}

export interface ReportInput {
  title: string;
  /** Short facts under the title, such as seed and configuration. */
  facts?: Readonly<Record<string, string>>;
  traces: Traces;
  log: readonly LogLine[];
  strip: ReportStrip | null;
  recordingName: string;
}

/** Lines that a browser still scrolls with ease. */
const mostLogLines = 6000;
const levels: Record<string, string> = { 10: 'trace', 20: 'debug', 30: 'info', 40: 'warn', 50: 'error', 60: 'fatal' };
const ownFields = new Set(['level', 'event', 'mono', 'atUs', 'shot', 'time', 'pid', 'hostname', 'msg', 'v']);

interface ShownLine {
  atUs: number;
  level: string;
  event: string;
  shot: number | null;
  what: string;
}

const shownLine = (line: LogLine): ShownLine => {
  const units = vocabulary[line.event as EventName]?.fields as Record<string, { unit?: string }> | undefined;
  const fields = Object.entries(line).filter(([name]) => !ownFields.has(name));
  return {
    atUs: Math.round(line.atUs ?? line.mono ?? 0),
    level: levels[String(line.level)] ?? String(line.level),
    event: line.event,
    shot: typeof line.shot === 'number' ? line.shot : null,
    what: fields
      .map(([name, value]) => {
        const unit = units?.[name]?.unit;
        // A name that ends in its unit needn't say it twice.
        const short = unit ? name.replace(/(Us|Ms|Mm|Percent)$/, '') : name;
        return `${short} ${typeof value === 'object' ? JSON.stringify(value) : value}${unit ? ` ${unit}` : ''}`;
      })
      .join(', '),
  };
};

/** Warnings and faults stay; of the rest the last ones. */
const fitting = (lines: readonly ShownLine[]): readonly ShownLine[] => {
  if (lines.length <= mostLogLines) return lines;
  const loud = lines.filter(({ level }) => level === 'warn' || level === 'error').slice(-mostLogLines / 2);
  const kept = new Set([...loud, ...lines.slice(-(mostLogLines - loud.length))]);
  return lines.filter(line => kept.has(line));
};

const style = `
:root{color-scheme:light dark;${asVariables(day)}}
@media (prefers-color-scheme:dark){:root{${asVariables(night)}}}
*{box-sizing:border-box}
body{margin:0;background:var(--ground);color:var(--ink);font:15px/1.45 system-ui,sans-serif}
header,section{padding:12px 20px}
h1{font-size:1.3rem;margin:0}h2{font-size:1rem;margin:0 12px 0 0;display:inline-block}
header p{margin:4px 0 0;color:var(--faint)}
.bar{display:flex;flex-wrap:wrap;gap:8px;align-items:center;margin-bottom:8px}
button,select,input{font:inherit;color:var(--ink);background:var(--raised);border:1px solid var(--faint);border-radius:5px;padding:3px 10px}
button{cursor:pointer}button:hover{border-color:var(--ink)}
:focus-visible{outline:3px solid var(--level);outline-offset:2px}
#strip{overflow:auto;max-height:56vh;border:1px solid var(--rule);background:#8f8b84}
#sheet{position:relative;width:max-content;margin:0 auto}
#sheet img{display:block;height:calc(56vh - 20px)}
#sheet.whole img{height:auto}
#sheet button{position:absolute;padding:0;border:2px solid transparent;border-radius:3px;background:none;color:#2a282c}
#sheet button:hover,#sheet button:focus-visible,#sheet button[aria-pressed=true]{border-color:#2f5d8a;box-shadow:0 0 0 2px #fffdf7}
#sheet button span{position:absolute;left:0;bottom:100%;background:#fffdf7;padding:0 7px;font:600 12px ui-monospace,monospace;border-radius:3px}
#traces{width:100%;display:block;border:1px solid var(--rule);background:var(--ground);touch-action:none;cursor:crosshair}
#reading{min-height:1.5em;margin:6px 0 0;color:var(--faint);font:13px ui-monospace,monospace;white-space:pre-wrap}
kbd{font:12px ui-monospace,monospace;border:1px solid var(--rule);border-radius:3px;padding:0 4px;background:var(--raised)}
.keys{color:var(--faint);font-size:13px}
#log{max-height:60vh;overflow:auto;border:1px solid var(--rule)}
table{border-collapse:collapse;width:100%;font:13px ui-monospace,monospace}
th{position:sticky;top:0;background:var(--ground);text-align:left;color:var(--faint);font-weight:400}
th,td{padding:2px 10px;vertical-align:top}
td:first-child,th:first-child{text-align:right;white-space:nowrap}
tbody tr{cursor:pointer}tbody tr:hover{background:var(--raised)}
tr[aria-selected=true]{background:var(--chosen)!important}
tr.warn td:nth-child(2),tr.error td:nth-child(2),tr.fatal td:nth-child(2){color:var(--fault);font-weight:600}
tr[hidden]{display:none}
@media (max-width:600px){th,td{padding:2px 4px}td:nth-child(4){word-break:break-word}}
`;

const pictureButtons = ({ pictures, widthPx, heightPx }: ReportStrip): string => {
  const percent = (part: number, of: number) => `${((100 * part) / of).toFixed(3)}%`;
  return pictures
    .map(
      p =>
        `<button type="button" data-shot="${p.shot}" data-at="${Math.round(p.atUs)}" data-until="${Math.round(p.untilUs)}" aria-pressed="false" aria-label="Picture ${p.shot}: show when it was taken and printed" style="left:${percent(p.leftPx, widthPx)};top:${percent(p.topPx, heightPx)};width:${percent(p.widthPx, widthPx)};height:${percent(p.heightPx, heightPx)}"><span>${p.shot}</span></button>`,
    )
    .join('');
};

const stripSection = (strip: ReportStrip | null): string =>
  strip === null
    ? ''
    : `<section aria-labelledby="strip-title"><div class="bar"><h2 id="strip-title">Paper</h2>
<button type="button" id="size" aria-pressed="false">Actual size</button>
<span class="keys">A picture leads to its traces.${strip.note ? ` ${escapeText(strip.note)}` : ''}</span></div>
<div id="strip" tabindex="0" role="region" aria-label="Paper"><div id="sheet"><img src="${escapeText(strip.src)}" width="${strip.widthPx}" height="${strip.heightPx}" style="width:auto" alt="The paper strip, ${strip.pictures.length} pictures">${pictureButtons(strip)}</div></div></section>`;

/** The whole report as one page that needs no network: strip, traces, log, linked with each other. */
export const reportPage = (input: ReportInput): string => {
  const { lanes, faults, spanUs } = lanesOf(input.traces);
  const all = input.log.map(shownLine);
  const log = fitting(all);
  const lastUs = log.reduce((last, { atUs }) => Math.max(last, atUs), spanUs);
  const counts: Record<string, string> = {
    pictures: String(new Set(all.filter(({ event }) => event === 'printed').map(({ shot }) => shot)).size),
    lasted: `${(lastUs / 1e6).toFixed(1)} s`,
    faults: String(faults.filter(({ what }) => !what.endsWith(' over')).length),
    recording: input.recordingName,
    ...input.facts,
  };
  const data = { spanUs: lastUs, lanes, faults, log };
  // Inside a script only "<" could end it.
  const json = JSON.stringify(data).replaceAll('<', '\\u003c');
  const missing = all.length - log.length;
  return `<!doctype html>
<html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width,initial-scale=1">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; img-src 'self' data: file:; style-src 'unsafe-inline'; script-src 'unsafe-inline'">
<link rel="icon" href="data:,">
<title>${escapeText(input.title)}</title><style>${style}</style></head><body>
<header><h1>${escapeText(input.title)}</h1>
<p>${Object.entries(counts)
    .map(([name, value]) => `${escapeText(name)} <b>${escapeText(value)}</b>`)
    .join(' · ')}</p></header>
<main>${stripSection(input.strip)}
<section aria-labelledby="traces-title"><div class="bar"><h2 id="traces-title">Traces</h2>
<button type="button" data-do="in" aria-label="Closer">+</button><button type="button" data-do="out" aria-label="Wider">−</button>
<button type="button" data-do="left" aria-label="Earlier">◀</button><button type="button" data-do="right" aria-label="Later">▶</button>
<button type="button" data-do="all">All</button>
<button type="button" data-do="back">Picture before</button><button type="button" data-do="next">Next picture</button>
<button type="button" data-do="fault">Next fault</button></div>
<canvas id="traces" tabindex="0" role="img" aria-label="Traces of all parts over time" aria-describedby="keys reading"></canvas>
<p id="reading" role="status" aria-live="polite"></p>
<p class="keys" id="keys">In the traces: wheel or <kbd>+</kbd> <kbd>−</kbd> zoom, drag or <kbd>←</kbd> <kbd>→</kbd> move, <kbd>0</kbd> shows all, <kbd>n</kbd> <kbd>b</kbd> next picture and the one before, <kbd>f</kbd> next fault, <kbd>↑</kbd> <kbd>↓</kbd> from one log line to another. A click reads every trace at that moment.</p></section>
<section aria-labelledby="log-title"><div class="bar"><h2 id="log-title">Log</h2>
<label>Show <select id="level"><option value="">everything</option><option value="loud">warnings and faults</option></select></label>
<label>with the words <input id="words" type="search" size="18"></label>
<span class="keys" id="count"></span>${missing > 0 ? `<span class="keys">${missing} earlier lines are only in the log file.</span>` : ''}</div>
<div id="log" tabindex="0" role="region" aria-label="Log"><table><thead><tr><th scope="col">s</th><th scope="col">event</th><th scope="col">picture</th><th scope="col">what</th></tr></thead><tbody id="lines"></tbody></table></div></section>
</main>
<script type="application/json" id="data">${json}</script>
<script>${viewerScript}</script>
</body></html>
`;
};
