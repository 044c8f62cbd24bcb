import { createVirtualClock, type VirtualClock } from '../../sim/clock.ts';
import type { DiskModel } from '../../sim/disk.ts';
import { createDiskPort, type DiskPort } from '../../sim/disk-port.ts';
import { chance } from '../../sim/random.ts';
import { createAlbum } from '../../src/album/album.ts';
import type { Disk, DiskHeard } from '../../src/album/disk.ts';
import { defaultConfig } from '../../src/config/schema.ts';
import type { Album, AlbumSaid, KeepSaid, PrintMark, RecallSaid } from '../../src/parts/album.ts';
import type { Frame } from '../../src/parts/webcam.ts';

/** A picture that can't be taken for another. */
export const frameOf = (shot: number, over: Partial<Frame> = {}): Frame => {
  const [widthPx, heightPx] = [16, 12];
  const strideBytes = widthPx * 2;
  const data = new Uint8Array(strideBytes * heightPx);
  for (let i = 0; i < data.length; i++) data[i] = i % 2 === 0 ? (shot * 37 + i * 5) & 255 : 128;
  const stamps = { sequence: shot * 10, exposureStartUs: shot * 1000, exposureEndUs: shot * 1000 + 500 };
  return { ...stamps, format: 'YUYV', widthPx, heightPx, strideBytes, range: 'limited', data, ...over };
};

export const lumaOf = ({ data }: Frame): Uint8Array => data.filter((_, i) => i % 2 === 0);

export interface Life {
  clock: VirtualClock;
  album: Album;
  port: DiskPort;
  said: AlbumSaid[];
  /** Steps that the album began on its disk. */
  readonly steps: number;
  readonly alive: boolean;
  /** Everything that is under way, and timers up to `forMs`. */
  settle(forMs?: number): void;
  keep(shot: number, frame?: Frame, takenAtMs?: number | null): KeepSaid | null;
  mark(shot: number, mark: PrintMark): KeepSaid | null;
  recall(shot: number): RecallSaid | null;
  end(): void;
}

export interface LifeOptions {
  seed?: number;
  album?: Partial<ReturnType<typeof defaultConfig>['album']>;
  /** Power goes at this step of the disk: when it has begun, or when it is done and not yet heard. */
  cutAtStep?: { step: number; when: 'begun' | 'done' };
  wrap?: (disk: Disk) => Disk;
}

/** One life of an album on a disk that outlives it, with a clock of its own: nothing is done after the cut. */
export const startLife = (model: DiskModel, { seed = 1, album: settings, cutAtStep, wrap }: LifeOptions = {}): Life => {
  const clock = createVirtualClock();
  const port = createDiskPort(clock, model, chance(seed));
  const said: AlbumSaid[] = [];
  let steps = 0;
  let alive = true;

  const passing =
    <A extends unknown[], T>(call: (...args: [...A, DiskHeard<T>]) => void) =>
    (...args: [...A, DiskHeard<T>]) => {
      if (!alive) return;
      const step = ++steps;
      const heard = args.pop() as DiskHeard<T>;
      const cutNow = (when: 'begun' | 'done') => {
        if (cutAtStep?.step === step && cutAtStep.when === when) alive = false;
      };
      call(
        ...([
          ...args,
          (answer: Parameters<DiskHeard<T>>[0]) => {
            cutNow('done');
            if (alive) heard(answer);
          },
        ] as unknown as [...A, DiskHeard<T>]),
      );
      cutNow('begun');
    };
  const disk: Disk = {
    put: passing(port.put),
    append: passing(port.append),
    read: passing(port.read),
    rename: passing(port.rename),
    remove: passing(port.remove),
    makeFolder: passing(port.makeFolder),
    list: passing(port.list),
    syncFolder: passing(port.syncFolder),
    freeBytes: passing(port.freeBytes),
  };
  const config = defaultConfig();
  Object.assign(config.album, { leastFreeMb: 1 }, settings);
  const album = createAlbum({ disk: wrap ? wrap(disk) : disk, clock, config });
  album.open(one => void (alive && said.push(one)));

  const settle = (forMs = 1000) => {
    const untilUs = clock.nowUs() + forMs * 1000;
    while (alive && clock.step(untilUs));
    if (alive) clock.runUntil(untilUs);
  };
  const answer = <T>(ask: (heard: (said: T) => void) => void): T | null => {
    let got: T | null = null;
    ask(one => {
      got = one;
    });
    if (got !== null) throw new Error('heard inside the call');
    settle();
    return got;
  };
  return {
    clock,
    album,
    port,
    said,
    get steps() {
      return steps;
    },
    get alive() {
      return alive;
    },
    settle,
    keep: (shot, frame = frameOf(shot), takenAtMs = null) =>
      answer(heard => album.keep(shot, frame, { takenAtMs, pressToFrameUs: 40_000 }, heard)),
    mark: (shot, mark) => answer(heard => album.mark(shot, mark, heard)),
    recall: shot => answer(heard => void album.recall(shot, heard)),
    end() {
      alive = false;
    },
  };
};

export const openedOf = (life: Life) => {
  const opened = life.said.find(one => one.kind === 'opened');
  if (opened?.kind !== 'opened') throw new Error(`not opened: ${JSON.stringify(life.said)}`);
  return opened;
};
