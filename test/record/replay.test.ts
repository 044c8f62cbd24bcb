import { describe, expect, it } from 'vitest';
import type { FaultName } from '../../sim/faults.ts';
import { faultNames } from '../../sim/faults.ts';
import { drawParty } from '../../sim/party.ts';
import { edited, recordScript, replayText, scriptOf, smallConfig } from './desk.ts';

const twoPictures = () =>
  recordScript(
    scriptOf(
      [
        { do: 'press', atS: 3 },
        { do: 'press', atS: 6 },
      ],
      20,
    ),
  ).lives[0];

describe('a replay', () => {
  it('says the same and sends the same bytes to the printer', () => {
    const { text, log, bytes } = twoPictures();
    const again = replayText(text);
    expect(again.replay.divergence).toBeNull();
    expect(log.match(/"event":"printed"/g)).toHaveLength(2);
    expect(again.log).toBe(log);
    expect(Buffer.from(again.bytes).equals(Buffer.from(bytes))).toBe(true);
    expect(bytes.length).toBeGreaterThan(500);
  });

  // Each fault lasts across a press, a print and the time after.
  it.each(faultNames)('says the same through the fault %s', fault => {
    const { lives } = recordScript(
      scriptOf(
        [
          { do: 'press', atS: 2.5 },
          { do: 'fault', fault: fault as FaultName, atS: 2.9, forS: 2.2 },
          { do: 'press', atS: 3.4 },
          { do: 'mash', atS: 5, times: 4 },
        ],
        16,
        7,
      ),
    );
    for (const { text, log, endUs } of lives) {
      const lastMono = Math.max(...[...log.matchAll(/"mono":(\d+)/g)].map(([, mono]) => Number(mono) - 2_000_000), 0);
      const again = replayText(text, {}, Math.max(endUs, lastMono));
      expect(again.replay.divergence).toBeNull();
      expect(again.log).toBe(log);
    }
  });

  it.each([1, 2, 4, 8])('says the same as a whole party of faults, drawn from seed %i', seed => {
    const drawn = drawParty(seed, { turns: 25, turnS: 1.6 });
    const { lives } = recordScript(
      scriptOf(drawn.steps, drawn.endS, seed),
      smallConfig({ queue: drawn.config?.queue, shutter: drawn.config?.shutter }),
    );
    for (const { text, log, endUs, bytes } of lives) {
      const lastMono = Math.max(...[...log.matchAll(/"mono":(\d+)/g)].map(([, mono]) => Number(mono) - 2_000_000), 0);
      const again = replayText(text, {}, Math.max(endUs, lastMono));
      expect(again.replay.divergence).toBeNull();
      expect(again.log).toBe(log);
      // What was cut off may have sent a little more by a timer that the log doesn't speak of.
      expect(Buffer.from(bytes).subarray(0, again.bytes.length).equals(Buffer.from(again.bytes))).toBe(true);
    }
  });

  it('replays a coil that refuses', () => {
    const { text, log } = recordScript(
      scriptOf(
        [
          { do: 'fault', fault: 'coil-dead', atS: 2, forS: 3 },
          { do: 'press', atS: 3 },
        ],
        15,
      ),
    ).lives[0];
    expect(text).toContain('"kind":"threw","call":"energise"');
    expect(log).toContain('coil-fault');
    expect(replayText(text).log).toBe(log);
    // Recorded a moment later than it is asked of now.
    const later = edited(text, lines =>
      lines.map(line =>
        line.includes('"call":"energise"') ? line.replace(/"t":(\d+)/, (_, t) => `"t":${Number(t) + 1}`) : line,
      ),
    );
    expect(replayText(later).replay.divergence).not.toBeNull();
  });

  it('says the same time of day, steps of the clock included', () => {
    const { text, log } = recordScript(
      scriptOf(
        [
          { do: 'press', atS: 3 },
          { do: 'fault', fault: 'clock-set', atS: 4, forS: 1 },
          { do: 'press', atS: 8 },
        ],
        20,
      ),
    ).lives[0];
    // The step is set by 1,234,567,000 ms; wall time is read in whole milliseconds before and after.
    expect(log).toMatch(/"event":"clock-step","stepMs":1234(567000|566999)\b/);
    expect(replayText(text).log).toBe(log);
  });
});

describe('a recording that was changed', () => {
  const { text } = twoPictures();
  const lineOf = (words: string, nth = 0) => {
    const found = text.split('\n').flatMap((line, i) => (line.includes(words) ? [i] : []));
    return found[nth];
  };
  const divergenceOf = (changed: string) => replayText(changed).replay.divergence;

  it('names the answer that is missing', () => {
    const at = lineOf('"kind":"kept"');
    const divergence = divergenceOf(edited(text, lines => lines.filter((_, i) => i !== at)));
    expect(divergence).not.toBeNull();
    expect(divergence?.atUs).toBeGreaterThan(3_000_000);
  });

  it('names the answer that nobody asked for', () => {
    const at = lineOf('"kind":"kept"');
    const divergence = divergenceOf(
      edited(text, lines => [...lines.slice(0, at), lines[at].replace('"shot":1', '"shot":7'), ...lines.slice(at + 1)]),
    );
    expect(divergence).toMatchObject({
      line: at + 1,
      expected: 'album kept, shot 7',
      came: 'nobody asked the album to keep 7',
    });
  });

  it('names the input that nobody listens for', () => {
    const at = lineOf('"kind":"frame"');
    const frame = text.split('\n')[at];
    const divergence = divergenceOf(
      edited(text, lines => [lines[0], frame.replace(/"t":\d+/, '"t":20'), ...lines.slice(1)]),
    );
    expect(divergence).toMatchObject({ line: 2, atUs: 20, came: 'nobody listens to the webcam' });
  });

  it('names the first bytes to the printer that differ', () => {
    const at = lineOf('"kind":"developed"');
    const divergence = divergenceOf(
      edited(text, lines => lines.map((line, i) => (i === at ? line.replace(/"dots":"..../, '"dots":"////') : line))),
    );
    expect(divergence?.expected).toMatch(/bytes sent to the printer by then, CRC/);
    expect(divergence?.line).toBeGreaterThan(at);
  });

  it('names a refusal that nothing ran into', () => {
    const divergence = divergenceOf(
      edited(text, ([head, ...lines]) =>
        [head, '{"t":900000,"part":"shutter","kind":"threw","call":"energise","why":"no"}', ...lines].sort(
          (a, b) => time(a) - time(b),
        ),
      ),
    );
    expect(divergence).toMatchObject({ came: 'nothing was asked of it' });
  });

  it('names dots that the pipeline makes otherwise now', () => {
    const { replay } = replayText(text, {
      developAgain: ({ shot }) => {
        const data = new Uint8Array(8 * 40);
        for (let i = 0; i < data.length; i++) data[i] = (i * 37 + shot * 11) & 255;
        if (shot === 2) data[17] ^= 1;
        return { widthDots: 64, heightDots: 40, strideBytes: 8, data };
      },
    });
    expect(replay.divergence).toMatchObject({
      expected: 'the dots of picture 2 as they were',
      came: 'other dots from row 2 on, out of the frame that was kept',
    });
  });
});

const time = (line: string) => (line.startsWith('{"format"') ? -1 : (JSON.parse(line).t as number));
