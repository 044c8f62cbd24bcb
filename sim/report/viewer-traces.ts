/** The half of the page's script that draws the traces: between `from` and `to`, with what is chosen in them. */
export const tracesScript = `const { spanUs, lanes, faults, log } = JSON.parse(document.getElementById('data').textContent);
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
`;
