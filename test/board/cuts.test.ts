import { existsSync, mkdirSync, readdirSync, readFileSync, writeFileSync } from 'node:fs';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { openShelves } from '../../src/album/browse.ts';
import { numbersIn, picturePath, pictures } from '../../src/album/layout.ts';
import { readGreyPng } from '../../src/album/png.ts';
import { verifyJournal, verifyPicture } from '../../src/album/verify.ts';
import type { Dots } from '../../src/parts/darkroom.ts';
import { boardFolder } from './board.ts';
import { cameraMark, createLives } from './lives.ts';
import { readPaper } from './paper-read.ts';

const cuts = Number(process.env.BOARD_CUTS ?? 3);
const seed = Number(process.env.BOARD_SEED ?? 1);

const dotsIn = (album: string): Map<number, Dots> => {
  const found = new Map<number, Dots>();
  for (const shelf of readdirSync(`${album}/${pictures}`))
    for (const shot of numbersIn(readdirSync(`${album}/${pictures}/${shelf}`))) {
      const file = `${album}/${picturePath(shot)}/dots.png`;
      if (!existsSync(file)) continue;
      const read = readGreyPng(readFileSync(file));
      if (read.kind === 'damaged') throw new Error(`${file}: ${read.why}`);
      const { widthPx: widthDots, heightPx: heightDots, data, bits } = read.png;
      expect(bits).toBe(1);
      // White is 1 in a PNG, black is 1 on paper.
      found.set(shot, { widthDots, heightDots, strideBytes: Math.ceil(widthDots / 8), data: data.map(byte => ~byte) });
    }
  return found;
};

describe(`${cuts} power cuts between press and the end of the print`, () => {
  const board = createLives(seed);
  let album = '';
  let longestMs = 0;

  beforeAll(
    async () => {
      longestMs = await board.calibrate();
      for (let number = 1; number <= cuts; number++) {
        await board.pressAndCut(number, longestMs);
        const { phase, cutMs, strokes, acknowledged, loss } = board.lives[board.lives.length - 1];
        process.stdout.write(
          `cut ${number}: ${Math.round(cutMs ?? 0)} of ${Math.round(longestMs)} ms after the press, ${phase}; ${strokes} strokes, acknowledged ${acknowledged.join(', ') || 'none'}; of the writes since the last flush ${loss?.whole} kept, ${loss?.torn} torn, ${loss?.lost} lost\n`,
        );
      }
      album = await board.end();
    },
    120_000 * (cuts + 2),
  );
  afterAll(() => board.stop());

  it('leave a file system that its journal makes clean, each time', () => {
    expect(board.lives.map(({ fileSystem }) => fileSystem)).toEqual(board.lives.map(() => 'clean'));
  });

  it('leave an album that opens each time, and in which every acknowledged picture is whole', () => {
    for (const { log } of board.lives) {
      expect(log.filter(({ event }) => event === 'album-opened')).toHaveLength(1);
      expect(log.filter(({ event }) => event === 'album-trouble' || event === 'not-kept')).toEqual([]);
    }
    const shelves = openShelves(album);
    const damages = shelves.shots.flatMap(shot => verifyPicture(shelves, shot));
    expect([...damages, ...verifyJournal(shelves)]).toEqual([]);
    expect([...(shelves.journal?.account.pending ?? [])]).toEqual([]);
  });

  it('lose no picture that was acknowledged, and print none twice', () => {
    const acknowledged = board.lives.flatMap(life => life.acknowledged);
    expect(new Set(acknowledged).size).toBe(acknowledged.length);
    const dotsOf = dotsIn(album);
    const { finds, times } = readPaper(board.twin.paper, cameraMark, dotsOf);
    mkdirSync(`${boardFolder}/report`, { recursive: true });
    writeFileSync(`${boardFolder}/report/cuts.png`, board.twin.png());
    const phases = new Map<string, number>();
    for (const { phase, cutMs } of board.lives) if (cutMs !== null) phases.set(phase, (phases.get(phase) ?? 0) + 1);
    const whole = finds.filter(({ kind }) => kind === 'body').length;
    process.stdout.write(
      `${cuts} cuts, seed ${seed}: ${[...phases].map(([phase, count]) => `${count} ${phase}`).join(', ')}; ${acknowledged.length} pictures acknowledged, ${times.size} on paper with their tail, ${whole} bodies printed whole; at most ${board.twin.stats().peakStored} bytes waited in the printer\n`,
    );
    writeFileSync(
      `${boardFolder}/report/cuts.json`,
      JSON.stringify({ seed, longestMs, phases: [...phases], finds, lives: board.lives }, null, 1),
    );
    const lost = acknowledged.filter(shot => !times.has(shot));
    const twice = [...times].filter(([, count]) => count > 1);
    expect({ lost, twice }).toEqual({ lost: [], twice: [] });
    // No other picture came out of nothing: each has dots of its own.
    const different = new Set([...dotsOf.values()].map(({ data }) => Buffer.from(data).toString('latin1')));
    expect(different.size).toBe(dotsOf.size);
    expect(acknowledged.length).toBeGreaterThan(0);
  });
});
