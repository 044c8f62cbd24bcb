/** The page's own script. It is text, for it runs in the browser; the tests run it in one. */
export const viewerScript = String.raw`'use strict';
(() => {
const { spanUs, lanes, faults, log } = JSON.parse(document.getElementById('data').textContent);
const byId = id => document.getElementById(id);
const canvas = byId('traces');
const reading = byId('reading');
const pen = canvas.getContext('2d');
const gutter = 104, axis = 30, gap = 9, right = 8;
const heights = { level: 24, amount: 48, tick: 20, word: 24 };
const fullSpan = spanUs * 1.02;
const height = axis + lanes.reduce((sum, lane) => sum + heights[lane.kind] + gap, 0) + 26;
let from = 0, to = fullSpan, cursor = null, chosen = null, picked = -1, width = 0, colours = {};

// Index of the last sample at or before us, -1 when there is none.
const indexAt = (atUs, us) => {
  let low = 0, high = atUs.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (atUs[middle] <= us) low = middle + 1; else high = middle;
  }
  return low - 1;
};
const x = us => gutter + (us - from) / (to - from) * (width - gutter - right);
const usAt = px => from + (px - gutter) / (width - gutter - right) * (to - from);
const roundStep = least => {
  const power = 10 ** Math.floor(Math.log10(least));
  return [1, 2, 5, 10].map(n => n * power).find(step => step >= least * (1 - 1e-9));
};
const seconds = (us, digits) => (us / 1e6).toFixed(digits) + ' s';

const readColours = () => {
  const style = getComputedStyle(document.documentElement);
  for (const name of ['ground', 'raised', 'ink', 'faint', 'rule', 'level', 'amount', 'tick', 'word', 'fault', 'chosen'])
    colours[name] = style.getPropertyValue('--' + name).trim();
};

// What a lane spans. Paper only ever grows: it is shown from where it stands at the left.
const rangeOf = lane => {
  if (lane.name === 'supply') return [Math.floor(lane.least), Math.max(Math.floor(lane.least) + 1, lane.most)];
  if (lane.name !== 'paper') return [0, Math.max(1, lane.most)];
  const before = indexAt(lane.atUs, from);
  const least = before < 0 ? 0 : lane.values[before];
  return [least, Math.max(least + 100, lane.values[Math.max(0, indexAt(lane.atUs, to))] || 0)];
};
const drawSteps = (lane, top, base) => {
  const [least, most] = rangeOf(lane);
  const y = value => base - (value - least) / (most - least) * (base - top);
  const path = new Path2D();
  let i = Math.max(0, indexAt(lane.atUs, from));
  let value = indexAt(lane.atUs, from) >= 0 ? lane.values[i] : lane.name === 'supply' ? lane.values[0] : 0;
  let held = y(value);
  path.moveTo(gutter, held);
  while (i < lane.atUs.length && lane.atUs[i] <= to) {
    const px = Math.max(gutter, x(lane.atUs[i]));
    let low = value, high = value;
    // All samples that fall on this half pixel are one stroke.
    do {
      value = lane.values[i];
      low = Math.min(low, value);
      high = Math.max(high, value);
      i++;
    } while (i < lane.atUs.length && x(lane.atUs[i]) - px < 0.5);
    path.lineTo(px, held);
    path.lineTo(px, y(low));
    path.lineTo(px, y(high));
    path.lineTo(px, y(value));
    held = y(value);
  }
  path.lineTo(width - right, y(value));
  pen.strokeStyle = colours[lane.kind];
  pen.lineWidth = 1.2;
  pen.stroke(path);
  path.lineTo(width - right, base);
  path.lineTo(gutter, base);
  pen.globalAlpha = 0.15;
  pen.fillStyle = colours[lane.kind];
  pen.fill(path);
  pen.globalAlpha = 1;
  if (lane.kind === 'amount') {
    pen.font = '10px ui-monospace, monospace';
    pen.textAlign = 'left';
    const shown = (lane.name === 'paper' ? '+' + (most - least) : most) + ' ' + (lane.unit || '');
    // On a plate of its own, for the trace runs behind it.
    pen.fillStyle = colours.ground;
    pen.globalAlpha = 0.85;
    pen.fillRect(gutter + 1, top - 2, pen.measureText(shown).width + 6, 13);
    pen.globalAlpha = 1;
    pen.fillStyle = colours.faint;
    pen.fillText(shown, gutter + 4, top + 8);
  }
};
const drawTicks = (lane, top, base) => {
  pen.strokeStyle = colours.tick;
  pen.beginPath();
  let drawn = -1;
  for (let i = Math.max(0, indexAt(lane.atUs, from)); i < lane.atUs.length && lane.atUs[i] <= to; i++) {
    const px = x(lane.atUs[i]);
    if (px < gutter || px - drawn < 0.7) continue;
    pen.moveTo(px, base);
    pen.lineTo(px, top + 3);
    drawn = px;
  }
  pen.stroke();
};
const drawWords = (lane, top, base) => {
  pen.font = '11px ui-monospace, monospace';
  pen.textAlign = 'left';
  for (let i = Math.max(0, indexAt(lane.atUs, from)); i < lane.atUs.length && lane.atUs[i] <= to; i++) {
    const left = Math.max(gutter, x(lane.atUs[i]));
    const end = Math.min(width - right, x(i + 1 < lane.atUs.length ? lane.atUs[i + 1] : to));
    if (end - left < 0.3) continue;
    pen.fillStyle = colours.raised;
    pen.strokeStyle = colours.word;
    pen.fillRect(left, top + 1, end - left, base - top - 2);
    pen.strokeRect(left + 0.5, top + 1.5, Math.max(0.5, end - left - 1), base - top - 3);
    const word = String(lane.values[i]);
    pen.fillStyle = colours.word;
    if (pen.measureText(word).width < end - left - 8) pen.fillText(word, left + 5, (top + base) / 2 + 4);
  }
};

const draw = () => {
  pen.clearRect(0, 0, width, height);
  pen.lineWidth = 1;
  const picture = picked < 0 ? null : pictures[picked];
  if (picture) {
    const [a, b] = spanOf(picture);
    pen.fillStyle = colours.chosen;
    pen.globalAlpha = 0.5;
    pen.fillRect(Math.max(gutter, x(a)), axis, Math.max(0, Math.min(width - right, x(b)) - Math.max(gutter, x(a))), height - axis - 22);
    pen.globalAlpha = 1;
  }
  pen.font = '11px ui-monospace, monospace';
  pen.textAlign = 'center';
  const step = roundStep((to - from) * 90 / Math.max(100, width - gutter));
  for (let us = Math.ceil(from / step) * step; us <= to; us += step) {
    pen.strokeStyle = colours.rule;
    pen.beginPath();
    pen.moveTo(x(us), axis - 6);
    pen.lineTo(x(us), height - 22);
    pen.stroke();
    pen.fillStyle = colours.faint;
    const label = seconds(us, Math.max(0, Math.ceil(6 - Math.log10(step) - 1e-9)));
    pen.fillText(label, x(us), axis - 12);
  }
  let top = axis + 4;
  for (const lane of lanes) {
    const base = top + heights[lane.kind];
    pen.strokeStyle = colours.rule;
    pen.beginPath();
    pen.moveTo(gutter, base);
    pen.lineTo(width - right, base);
    pen.stroke();
    pen.save();
    pen.beginPath();
    pen.rect(gutter, 0, width - gutter - right + 1, height);
    pen.clip();
    pen.lineWidth = 1;
    if (lane.kind === 'tick') drawTicks(lane, top, base);
    else if (lane.kind === 'word') drawWords(lane, top, base);
    else drawSteps(lane, top, base);
    pen.restore();
    pen.font = '12px ui-monospace, monospace';
    pen.fillStyle = colours.ink;
    pen.textAlign = 'right';
    pen.fillText(lane.label, gutter - 10, (top + base) / 2 + 4);
    top = base + gap;
  }
  let free = 0;
  pen.textAlign = 'left';
  pen.font = '11px ui-monospace, monospace';
  for (const { atUs, what } of faults) {
    if (atUs < from || atUs > to) continue;
    pen.strokeStyle = pen.fillStyle = colours.fault;
    pen.setLineDash([3, 3]);
    pen.beginPath();
    pen.moveTo(x(atUs), axis - 4);
    pen.lineTo(x(atUs), height - 18);
    pen.stroke();
    pen.setLineDash([]);
    const left = Math.min(x(atUs) + 3, width - right - pen.measureText(what).width);
    if (left < free) continue;
    pen.fillText(what, left, height - 7);
    free = left + pen.measureText(what).width + 7;
  }
  if (cursor !== null && cursor >= from && cursor <= to) {
    pen.strokeStyle = colours.ink;
    pen.beginPath();
    pen.moveTo(x(cursor), axis - 6);
    pen.lineTo(x(cursor), height - 20);
    pen.stroke();
  }
  canvas.dataset.from = Math.round(from);
  canvas.dataset.to = Math.round(to);
  canvas.dataset.cursor = cursor === null ? '' : Math.round(cursor);
  canvas.dataset.shot = picked < 0 ? '' : pictures[picked].shot;
};
let asked = false;
const redraw = () => {
  if (asked) return;
  asked = true;
  requestAnimationFrame(() => { asked = false; draw(); });
};
const resize = () => {
  const ratio = window.devicePixelRatio || 1;
  width = canvas.clientWidth;
  canvas.style.height = height + 'px';
  canvas.width = Math.round(width * ratio);
  canvas.height = Math.round(height * ratio);
  pen.setTransform(ratio, 0, 0, ratio, 0, 0);
  readColours();
  draw();
};

const show = (a, b) => {
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
})();`;
