import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { lineOf } from '../../src/album/account.ts';
import { createAlbum } from '../../src/album/album.ts';
import { makeFrameFile } from '../../src/album/frame-file.ts';
import { picturePath, shelfPath } from '../../src/album/layout.ts';
import { defaultConfig } from '../../src/config/schema.ts';
import { createDisk } from '../../src/linux/disk.ts';
import { createBoardClock } from '../../src/linux/inlet.ts';
import type { Frame } from '../../src/parts/webcam.ts';

const now = () => Number(process.hrtime.bigint() / 1000n) / 1000;
const median = (values: number[]): number => [...values].sort((a, b) => a - b)[values.length >> 1];

const frameOf = (shot: number, widthPx: number, heightPx: number): Frame => {
  const data = new Uint8Array(widthPx * heightPx * 2);
  for (let i = 0; i < data.length; i++) data[i] = (i * 31 + shot) & 255;
  const stamps = { sequence: shot, exposureStartUs: 0, exposureEndUs: 1 };
  return { ...stamps, format: 'YUYV', widthPx, heightPx, strideBytes: widthPx * 2, range: 'full', data };
};

const fill = (folder: string, count: number) => {
  const made = makeFrameFile(1, frameOf(1, 16, 12), { takenAtMs: null, pressToFrameUs: 0 });
  if (made.kind === 'unfit') throw new Error(made.why);
  for (let shot = 1; shot <= count; shot++) {
    if (shot === 1 || shot % 1000 === 0) mkdirSync(`${folder}/${shelfPath(shot)}`, { recursive: true });
    mkdirSync(`${folder}/${picturePath(shot)}`);
    writeFileSync(`${folder}/${picturePath(shot)}/frame.png`, made.bytes);
  }
  const sum = lineOf({ kind: 'sum', nextShot: count + 1, paperUsedMm: 0, pending: [], leaving: null });
  writeFileSync(`${folder}/journal`, sum.repeat(2));
};

/** Time from asking to `opened`, ms, with nothing of an earlier life in memory but the system's own cache. */
const openMs = (folder: string): Promise<number> =>
  new Promise(resolve => {
    const board = createBoardClock();
    const disk = createDisk(folder, deliver => board.inlet.take('album', {}, deliver));
    const album = createAlbum({ disk, clock: board.clock, config: defaultConfig() });
    const from = now();
    let tookMs = 0;
    const undo = album.open(said => {
      if (said.kind === 'opened') tookMs = now() - from;
    });
    // Places for the next pictures are made behind it.
    setTimeout(() => {
      undo();
      board.stop();
      resolve(tookMs);
    }, 150);
  });

/** Keeping pictures with all that follows, ms each; beside it, the barest way to make the same bytes durable. */
const keepMs = (folder: string, count: number): Promise<{ keep: number[]; raw: number[] }> =>
  new Promise(resolve => {
    const board = createBoardClock();
    const disk = createDisk(folder, deliver => board.inlet.take('album', {}, deliver));
    const album = createAlbum({ disk, clock: board.clock, config: defaultConfig() });
    const frame = frameOf(1, 1280, 720);
    const keep: number[] = [];
    const raw: number[] = [];
    let next = 0;
    const again = () => {
      if (keep.length === count) {
        undo();
        board.stop();
        resolve({ keep, raw });
        return;
      }
      const from = now();
      album.keep(next++, frame, { takenAtMs: null, pressToFrameUs: 0 }, said => {
        if (said.kind === 'failed') throw new Error(said.why);
        keep.push(now() - from);
        setTimeout(() => {
          const begun = now();
          disk.put('raw', frame.data.subarray(0, 921_600), () => {
            raw.push(now() - begun);
            setTimeout(again, 150);
          });
        }, 150);
      });
    };
    const undo = album.open(said => {
      if (said.kind !== 'opened') return;
      next = said.nextShot;
      setTimeout(again, 300);
    });
  });

/** Opening a full album against an empty one, and keeping a picture against a bare durable write. */
export const benchAlbum = async (
  say: (line: string) => void,
  { pictures = 100_000, rounds = 15 } = {},
): Promise<void> => {
  const root = mkdtempSync(`${process.env.BENCH_FOLDER ?? tmpdir()}/slipshutter-bench-`);
  try {
    const [full, empty] = [`${root}/full`, `${root}/empty`];
    mkdirSync(full);
    mkdirSync(empty);
    fill(full, pictures);
    fill(empty, 0);
    const times = { full: [] as number[], empty: [] as number[] };
    for (let round = 0; round < rounds; round++) {
      times.empty.push(await openMs(empty));
      times.full.push(await openMs(full));
    }
    const [fullMs, emptyMs] = [median(times.full), median(times.empty)];
    say(
      `album: opening ${pictures} pictures ${fullMs.toFixed(2)} ms, none ${emptyMs.toFixed(2)} ms: ${(fullMs - emptyMs).toFixed(2)} ms more (wanted: at most 50)`,
    );
    const { keep, raw } = await keepMs(empty, rounds);
    say(
      `album: keeping 1280 × 720 ${median(keep).toFixed(2)} ms, a bare durable write of as many bytes ${median(raw).toFixed(2)} ms: ratio ${(median(keep) / median(raw)).toFixed(2)}`,
    );
  } finally {
    rmSync(root, { recursive: true, force: true });
  }
};
