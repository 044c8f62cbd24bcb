import { tracesScript } from './viewer-traces.ts';

/** The other half: what hands do to traces, pictures and log, and how these lead to each other. */
const handsScript = String.raw`const show = (a, b) => {
  const span = Math.min(fullSpan, Math.max(200, b - a));
  from = Math.max(0, Math.min(fullSpan - span, a + (b - a - span) / 2));
  to = from + span;
  redraw();
};
const zoom = (times, about) => show(about - (about - from) * times, about + (to - about) * times);
const pan = part => { const by = (to - from) * part; show(from + by, to + by); };
const read = us => {
  cursor = us;
  const said = lanes.filter(lane => lane.kind !== 'tick').map(lane => {
    const i = indexAt(lane.atUs, us);
    if (i < 0) return null;
    const value = lane.values[i];
    if (lane.kind === 'level') return value ? lane.label + ' on' : null;
    return lane.label + ' ' + value + (lane.unit ? ' ' + lane.unit : '');
  }).filter(Boolean);
  reading.textContent = seconds(us, 6) + ': ' + (said.join(', ') || 'all at rest');
  redraw();
};

// — log —
const lines = byId('lines');
const rows = log.map((line, i) => {
  const row = lines.insertRow();
  row.className = line.level;
  row.dataset.index = i;
  for (const text of [(line.atUs / 1e6).toFixed(3), line.event, line.shot === null ? '' : line.shot, line.what])
    row.insertCell().textContent = text;
  return row;
});
const choose = (index, lead) => {
  if (chosen !== null) rows[chosen].removeAttribute('aria-selected');
  chosen = index;
  const row = rows[index];
  row.setAttribute('aria-selected', 'true');
  const box = byId('log');
  if (row.offsetTop < box.scrollTop + 30 || row.offsetTop > box.scrollTop + box.clientHeight - 30)
    box.scrollTop = row.offsetTop - box.clientHeight / 2;
  if (!lead) return;
  const { atUs } = log[index];
  if (atUs < from || atUs > to) show(atUs - (to - from) / 2, atUs + (to - from) / 2);
  read(atUs);
};
const nearestLine = us => {
  let best = null;
  log.forEach((line, i) => {
    if (!rows[i].hidden && (best === null || Math.abs(line.atUs - us) < Math.abs(log[best].atUs - us))) best = i;
  });
  return best;
};
const stepLine = by => {
  let i = chosen === null ? (cursor === null ? -1 : nearestLine(cursor)) : chosen;
  do i += by; while (i >= 0 && i < rows.length && rows[i].hidden);
  if (i >= 0 && i < rows.length) choose(i, true);
};
const filter = () => {
  const loud = byId('level').value === 'loud';
  const words = byId('words').value.toLowerCase().split(/\s+/).filter(Boolean);
  let shown = 0;
  rows.forEach((row, i) => {
    const text = row.textContent.toLowerCase();
    row.hidden = (loud && !['warn', 'error', 'fatal'].includes(log[i].level)) || !words.every(word => text.includes(word));
    if (!row.hidden) shown++;
  });
  byId('count').textContent = shown + ' of ' + rows.length + ' lines';
};
lines.addEventListener('click', event => {
  const row = event.target.closest('tr');
  if (row) choose(Number(row.dataset.index), true);
});
byId('level').addEventListener('change', filter);
byId('words').addEventListener('input', filter);
filter();

// — pictures —
const buttons = [...document.querySelectorAll('#sheet button')];
const pictures = buttons.map(button => ({ shot: Number(button.dataset.shot), at: Number(button.dataset.at), until: Number(button.dataset.until), button }));
// A picture's time: from its press, where the log knows it, to its last dot.
const spanOf = picture => {
  const press = log.filter(line => line.shot === picture.shot && line.event === 'press' && line.atUs <= picture.until).pop();
  return [press ? press.atUs : picture.at, picture.until];
};
const showPicture = (picture, scroll) => {
  picked = pictures.indexOf(picture);
  for (const other of pictures) other.button.setAttribute('aria-pressed', String(other === picture));
  const [a, b] = spanOf(picture);
  const margin = Math.max(50000, (b - a) * 0.08);
  show(a - margin, b + margin);
  read(picture.at);
  const line = log.findIndex(l => l.shot === picture.shot);
  if (line >= 0) choose(line, false);
  if (scroll) canvas.scrollIntoView({ block: 'nearest' });
};
const stepPicture = by => {
  if (pictures.length === 0) return;
  const next = picked < 0 ? (by > 0 ? 0 : pictures.length - 1) : (picked + by + pictures.length) % pictures.length;
  showPicture(pictures[next], false);
};
for (const picture of pictures) picture.button.addEventListener('click', () => showPicture(picture, true));
const size = byId('size');
if (size) size.addEventListener('click', () => {
  const whole = byId('sheet').classList.toggle('whole');
  size.setAttribute('aria-pressed', String(whole));
});

const nextFault = () => {
  if (faults.length === 0) return;
  const after = cursor === null ? -1 : cursor;
  const { atUs } = faults.find(fault => fault.atUs > after) || faults[0];
  const span = Math.min(to - from, 4e6);
  show(atUs - span / 2, atUs + span / 2);
  read(atUs);
};

// — hands —
const middle = () => cursor !== null && cursor >= from && cursor <= to ? cursor : (from + to) / 2;
const doings = {
  in: () => zoom(0.5, middle()), out: () => zoom(2, middle()), left: () => pan(-0.25), right: () => pan(0.25),
  all: () => show(0, fullSpan), next: () => stepPicture(1), back: () => stepPicture(-1), fault: nextFault,
};
for (const button of document.querySelectorAll('[data-do]')) button.addEventListener('click', doings[button.dataset.do]);
const keys = {
  '+': doings.in, '=': doings.in, '-': doings.out, ArrowLeft: doings.left, ArrowRight: doings.right, '0': doings.all, Home: doings.all,
  n: doings.next, b: doings.back, f: nextFault, ArrowUp: () => stepLine(-1), ArrowDown: () => stepLine(1),
};
canvas.addEventListener('keydown', event => {
  const act = keys[event.key];
  if (!act || event.ctrlKey || event.metaKey || event.altKey) return;
  event.preventDefault();
  act();
});
byId('log').addEventListener('keydown', event => {
  if (event.key !== 'ArrowUp' && event.key !== 'ArrowDown') return;
  event.preventDefault();
  stepLine(event.key === 'ArrowUp' ? -1 : 1);
});
canvas.addEventListener('wheel', event => {
  event.preventDefault();
  if (Math.abs(event.deltaX) > Math.abs(event.deltaY)) return pan(event.deltaX / width);
  zoom(Math.exp(Math.max(-1, Math.min(1, event.deltaY / 300))), usAt(event.offsetX));
}, { passive: false });

const fingers = new Map();
let pinch = 0, moved = 0;
canvas.addEventListener('pointerdown', event => {
  canvas.setPointerCapture(event.pointerId);
  fingers.set(event.pointerId, event.offsetX);
  moved = fingers.size > 1 ? 99 : 0;
  pinch = 0;
});
canvas.addEventListener('pointermove', event => {
  if (!fingers.has(event.pointerId)) return;
  const before = fingers.get(event.pointerId);
  fingers.set(event.pointerId, event.offsetX);
  moved += Math.abs(event.offsetX - before);
  if (fingers.size === 1 && moved > 3) {
    const by = (before - event.offsetX) / (width - gutter - right) * (to - from);
    show(from + by, to + by);
  } else if (fingers.size === 2) {
    const [a, b] = [...fingers.values()];
    const apart = Math.max(20, Math.abs(a - b));
    if (pinch > 0) zoom(pinch / apart, usAt((a + b) / 2));
    pinch = apart;
  }
});
const lift = event => {
  if (!fingers.delete(event.pointerId) || moved > 3 || event.type !== 'pointerup' || event.offsetX < gutter) return;
  read(usAt(event.offsetX));
  const line = nearestLine(cursor);
  if (line !== null) choose(line, false);
};
canvas.addEventListener('pointerup', lift);
canvas.addEventListener('pointercancel', lift);
canvas.addEventListener('dblclick', event => zoom(0.4, usAt(event.offsetX)));

matchMedia('(prefers-color-scheme: dark)').addEventListener('change', () => { readColours(); draw(); });
new ResizeObserver(resize).observe(canvas);
resize();
`;

/** The page's own script. It is text, for it runs in the browser; the tests run it in one. */
export const viewerScript = `'use strict';
(() => {
${tracesScript}
${handsScript}})();`;
