/** The live page's own script. It is text, for it runs in the browser; the tests run it in one. */
export const liveScript = `'use strict';
(() => {
const byId = id => document.getElementById(id);
// One after the other: letting go must not overtake the press on another connection.
let ordered = Promise.resolve();
const order = (act, name) => {
  ordered = ordered.then(() => fetch('/do', { method: 'POST', headers: { 'content-type': 'application/json' }, body: JSON.stringify({ act, name }) })).catch(() => {});
};
let hello = null, standing = null;

// — paper —
const paper = byId('paper');
const ink = paper.getContext('2d');
// Rows of the strip that still hangs on the camera, oldest first; the roll's end before it reaches beyond the slot.
let hanging = [];
let paperAt = 0;
const unpack = text => Uint8Array.from(atob(text), sign => sign.charCodeAt(0));
const drawRows = (pen, rows, y0, width) => {
  const picture = pen.createImageData(width, rows.length);
  const { data } = picture;
  rows.forEach((row, y) => {
    for (let x = 0; x < width; x++) {
      const black = row !== null && (row[x >> 3] >> (7 - (x & 7))) & 1;
      const at = (y * width + x) * 4;
      const grain = ((x * 7919 + (paperAt - rows.length + y) * 104729) >>> 3) & 3;
      data[at] = black ? 42 + grain * 2 : 250 - grain;
      data[at + 1] = black ? 42 + grain * 2 : 247 - grain;
      data[at + 2] = black ? 48 + grain * 2 : 237 - grain;
      data[at + 3] = 255;
    }
  });
  pen.putImageData(picture, 0, y0);
};
const drawPaper = () => {
  const height = paper.height;
  ink.clearRect(0, 0, paper.width, height);
  if (hanging.length === 0) return;
  const shown = hanging.slice(-height);
  drawRows(ink, shown, height - shown.length, paper.width);
};
const addRows = rows => {
  hanging.push(...rows);
  const height = paper.height;
  if (rows.length >= height) return drawPaper();
  // What is there moves up, the new rows come out below.
  ink.globalCompositeOperation = 'copy';
  ink.drawImage(paper, 0, -rows.length);
  ink.globalCompositeOperation = 'source-over';
  drawRows(ink, rows, height - rows.length, paper.width);
};
const tearOff = () => {
  // Between head and edge some paper stays; it is what the next strip begins with.
  const inside = Math.min(hello.tearDots, hanging.length);
  const torn = hanging.slice(0, hanging.length - inside);
  hanging = hanging.slice(hanging.length - inside);
  drawPaper();
  if (!torn.some(row => row !== null && row.some(byte => byte !== 0))) return;
  const sheet = document.createElement('button');
  sheet.type = 'button';
  sheet.setAttribute('aria-label', 'A strip that was torn off: show it larger');
  sheet.setAttribute('aria-pressed', 'false');
  const full = document.createElement('canvas');
  full.width = hello.widthDots;
  full.height = torn.length;
  drawRows(full.getContext('2d'), torn, 0, full.width);
  // Small, it is a mean of dots: a browser that only leaves some out would draw stripes.
  const small = document.createElement('canvas');
  small.width = Math.floor(full.width / 3);
  small.height = Math.floor(full.height / 3);
  const from = full.getContext('2d').getImageData(0, 0, full.width, full.height).data;
  const into = small.getContext('2d').createImageData(small.width, small.height);
  for (let y = 0; y < small.height; y++)
    for (let x = 0; x < small.width; x++)
      for (let c = 0; c < 4; c++) {
        let sum = 0;
        for (let v = 0; v < 3; v++) for (let u = 0; u < 3; u++) sum += from[((y * 3 + v) * full.width + x * 3 + u) * 4 + c];
        into.data[(y * small.width + x) * 4 + c] = sum / 9;
      }
  small.getContext('2d').putImageData(into, 0, 0);
  sheet.append(small);
  sheet.addEventListener('click', () => {
    const large = sheet.firstChild === small;
    sheet.replaceChildren(large ? full : small);
    sheet.setAttribute('aria-pressed', String(large));
  });
  const tray = byId('tray');
  tray.querySelector('span')?.remove();
  tray.prepend(sheet);
  while (tray.children.length > 24) tray.lastChild.remove();
};

// — traces —
const traces = byId('traces');
const pen = traces.getContext('2d');
const lanes = [
  ['button', 'button', 1], ['coil', 'coil', 1], ['blades', 'blades', 1], ['head', 'head', 0], ['paper', 'paper', 0],
  ['motor-in', 'motor in', 1], ['motor-out', 'motor out', 1], ['lamp', 'lamp', 1],
];
const kept = new Map(lanes.map(([name]) => [name, []]));
const span = 8e6;
const drawTraces = () => {
  if (!standing) return;
  const ratio = window.devicePixelRatio || 1;
  const width = traces.clientWidth, height = traces.clientHeight;
  if (traces.width !== Math.round(width * ratio)) {
    traces.width = Math.round(width * ratio);
    traces.height = Math.round(height * ratio);
  }
  pen.setTransform(ratio, 0, 0, ratio, 0, 0);
  pen.clearRect(0, 0, width, height);
  const style = getComputedStyle(document.documentElement);
  const colour = name => style.getPropertyValue('--' + name).trim();
  const to = standing.atUs, from = to - span, gutter = 78;
  const x = us => Math.max(gutter, gutter + (us - from) / span * (width - gutter));
  pen.font = '11px ui-monospace, monospace';
  pen.strokeStyle = colour('rule');
  pen.fillStyle = colour('faint');
  for (let s = Math.ceil(Math.max(0, from) / 1e6); s * 1e6 <= to; s++) {
    pen.beginPath();
    pen.moveTo(x(s * 1e6), 0);
    pen.lineTo(x(s * 1e6), height - 14);
    pen.stroke();
    if (x(s * 1e6) < width - 34) pen.fillText(s + ' s', x(s * 1e6) + 2, height - 3);
  }
  const high = (height - 22) / lanes.length;
  lanes.forEach(([name, label, level], i) => {
    const list = kept.get(name);
    while (list.length > 1 && list[1].atUs < from) list.shift();
    const base = (i + 1) * high, top = i * high + 5;
    let most = 1, least = 0;
    if (!level) {
      for (const { value } of list) most = Math.max(most, value);
      if (name === 'paper') { least = Math.min(...list.map(one => one.value), most); most = Math.max(most, least + 1); }
    }
    const y = value => base - (Math.max(least, value) - least) / (most - least) * (base - top);
    pen.strokeStyle = colour(level ? 'level' : 'amount');
    pen.beginPath();
    let value = list.length && list[0].atUs <= from ? list[0].value : 0;
    pen.moveTo(gutter, y(value));
    for (const one of list) {
      if (one.atUs < from) { value = one.value; continue; }
      pen.lineTo(x(one.atUs), y(value));
      value = one.value;
      pen.lineTo(x(one.atUs), y(value));
    }
    pen.lineTo(width, y(value));
    pen.stroke();
    pen.fillStyle = colour('ink');
    pen.fillText(label, 4, base - high / 2 + 6);
  });
};

// — sound: a stroke of the coil is a short knock —
let sound = null;
const knock = () => {
  if (!sound) return;
  const length = sound.sampleRate * 0.03;
  const buffer = sound.createBuffer(1, length, sound.sampleRate);
  const wave = buffer.getChannelData(0);
  for (let i = 0; i < length; i++) wave[i] = Math.sin(i * 0.9 + 7 * Math.sin(i * 3.7)) * Math.exp(-i / (length / 7)) * 0.5;
  const source = sound.createBufferSource();
  source.buffer = buffer;
  source.connect(sound.destination);
  source.start();
};
byId('sound').addEventListener('click', event => {
  sound = sound ? (sound.close(), null) : new AudioContext();
  event.currentTarget.setAttribute('aria-pressed', String(sound !== null));
});

// — what comes —
const seen = byId('seen');
const show = now => {
  const before = standing;
  standing = now;
  byId('lamp').classList.toggle('on', now.lamp);
  byId('lamp').setAttribute('aria-label', now.lamp ? 'Lamp, on' : 'Lamp, off');
  byId('blades').classList.toggle('shut', now.blades || now.coil);
  byId('lens').style.transform = 'scale(' + (1 + now.motor * 0.035) + ')';
  byId('release').classList.toggle('down', now.button);
  if (!before || before.means !== now.means) byId('tells').textContent = now.alive ? 'Lamp – ' + now.means : now.means;
  byId('plate').textContent = 'roll ' + (now.rollMm / 1000).toFixed(2) + ' m · head ' + now.headC.toFixed(1) + ' °C';
  const said = now.states ? Object.entries(now.states).map(([region, state]) => region + ' <b>' + state + '</b>').join('</span><span>') : '<b>no power</b>';
  if (byId('states').dataset.said !== said) {
    byId('states').dataset.said = said;
    byId('states').innerHTML = '<span>' + said + '</span>';
  }
  for (const button of document.querySelectorAll('#mishaps button')) button.setAttribute('aria-pressed', String(now.wrong.includes(button.dataset.name)));
  document.body.dataset.at = now.atUs;
};
const write = lines => {
  const log = byId('log');
  const atEnd = log.scrollTop + log.clientHeight > log.scrollHeight - 30;
  for (const line of lines) {
    const { level, time, mono, atUs, event, ...fields } = line;
    const row = document.createElement('div');
    if (level === 'warn' || level === 'error' || level >= 40) row.className = 'loud';
    row.textContent = (atUs / 1e6).toFixed(2).padStart(8) + '  ' + event + '  ' + Object.entries(fields).map(([name, value]) => name + ' ' + value).join(', ');
    log.append(row);
  }
  while (log.children.length > 300) log.firstChild.remove();
  if (atEnd) log.scrollTop = log.scrollHeight;
};
const stream = new EventSource('/stream');
stream.addEventListener('hello', event => {
  hello = JSON.parse(event.data);
  paper.width = hello.widthDots;
  paper.height = Math.max(200, byId('out').clientHeight);
  seen.width = hello.look.widthPx;
  seen.height = hello.look.heightPx;
  byId('link').textContent = '';
  byId('mishaps').replaceChildren(...hello.mishaps.map(({ name, key, what }) => {
    const button = document.createElement('button');
    button.type = 'button';
    button.dataset.name = name;
    button.innerHTML = '';
    button.append(what + ' ');
    const hint = document.createElement('kbd');
    hint.textContent = key;
    button.append(hint);
    button.addEventListener('click', () => order('toggle', name));
    return button;
  }));
});
stream.addEventListener('news', event => {
  const news = JSON.parse(event.data);
  if (news.samples.some(({ name, value }) => name === 'coil' && value === 1)) knock();
  for (const { name, atUs, value } of news.samples) kept.get(name).push({ atUs, value });
  if (news.to > news.from) {
    const bytes = unpack(news.rows);
    paperAt = news.to;
    addRows(Array.from({ length: news.to - news.from }, (_, i) => bytes.subarray(i * hello.strideBytes, (i + 1) * hello.strideBytes)));
  }
  if (news.tears.length > 0) tearOff();
  show(news.standing);
  write(news.log);
  drawTraces();
});
stream.addEventListener('look', event => {
  const grey = unpack(JSON.parse(event.data));
  const sight = seen.getContext('2d');
  const picture = sight.createImageData(seen.width, seen.height);
  grey.forEach((value, i) => picture.data.set([value, value, value, 255], i * 4));
  sight.putImageData(picture, 0, 0);
});
stream.addEventListener('error', () => { byId('link').textContent = 'the desk doesn’t answer; is it still running?'; });

// — hands —
let down = false;
const press = () => { if (!down) { down = true; order('down'); byId('release').classList.add('down'); } };
const letGo = () => { if (down) { down = false; order('up'); } };
const release = byId('release');
release.addEventListener('pointerdown', event => { release.setPointerCapture(event.pointerId); press(); });
release.addEventListener('pointerup', letGo);
release.addEventListener('pointercancel', letGo);
// Enter, or a reader of the screen: a click without a pointer.
release.addEventListener('click', event => { if (event.detail === 0) { press(); letGo(); } });
window.addEventListener('blur', letGo);
byId('tear').addEventListener('click', () => order('tear'));
paper.addEventListener('click', () => order('tear'));
byId('roll').addEventListener('click', () => order('roll'));
document.addEventListener('keydown', event => {
  if (event.ctrlKey || event.metaKey || event.altKey) return;
  if (event.key === ' ') {
    // The space bar is the shutter button wherever the focus is.
    event.preventDefault();
    if (!event.repeat) press();
    return;
  }
  if (event.repeat) return;
  if (event.key === 't') order('tear');
  else if (event.key === 'r') order('roll');
  else {
    const mishap = hello?.mishaps.find(one => one.key === event.key);
    if (mishap) order('toggle', mishap.name);
  }
});
document.addEventListener('keyup', event => {
  if (event.key !== ' ') return;
  event.preventDefault();
  letGo();
});
})();`;
