import { describe, expect, it } from 'vitest';
import { createVirtualClock } from '../../sim/clock.ts';
import type { Clock, Inlet, PartName } from '../../src/parts/clock.ts';
import type { Rig } from '../../src/parts/rig.ts';
import type { Frame } from '../../src/parts/webcam.ts';
import { digestOfFrame } from '../../src/record/digest.ts';
import { type Said, type Sink, throughInlet, unheard } from '../../src/record/inlet.ts';
import { createRecorder, headerOf } from '../../src/record/recorder.ts';
import { createRing } from '../../src/record/ring.ts';
import { smallConfig, smallProfile } from './desk.ts';

/** A door on a clock that stands where the input comes: an input inside another waits for its turn, as on the board. */
const createDoor = (clock: Clock, sink: Sink): Inlet => {
  const waiting: (() => void)[] = [];
  let busy = false;
  return {
    take(part, said, deliver) {
      waiting.push(() => {
        sink(clock.nowUs(), part, said);
        deliver();
      });
      if (busy) return;
      busy = true;
      try {
        for (let next = waiting.shift(); next; next = waiting.shift()) next();
      } finally {
        busy = false;
      }
    },
    note: (part, said) => sink(clock.nowUs(), part, said),
  };
};

type Heard = (said: never) => void;

/** Parts that say what a test makes them say. */
const setUp = () => {
  const clock = createVirtualClock();
  const sinks: { atUs: number; part: PartName; said: Said }[] = [];
  const say: Record<string, Heard> = {};
  const listen = (name: string) => (heard: Heard) => {
    say[name] = heard;
    return () => {};
  };
  const refuse = { energise: false };
  const parts = {
    clock,
    button: { listen: listen('button') },
    shutter: {
      energise() {
        if (refuse.energise) throw new Error('no line');
      },
      release() {},
    },
    webcam: { open: listen('webcam'), watch: listen('watch') },
    darkroom: {
      develop(_: unknown, __: unknown, heard: Heard) {
        say.darkroom = heard;
        return () => {};
      },
    },
    printer: { open: listen('printer'), write() {}, discard() {} },
    lamp: { show() {} },
    motor: { drive() {} },
    album: {
      open: listen('album'),
      keep(_: unknown, __: unknown, ___: unknown, heard: Heard) {
        say.keep = heard;
      },
      mark() {},
      keepDots() {},
      recall: listen('recall'),
      paperUsed() {},
    },
    supply: { listen: listen('supply') },
  } as unknown as Rig;
  const inlet = createDoor(clock, (atUs, part, said) => sinks.push({ atUs, part, said }));
  return { clock, rig: throughInlet(parts, inlet), say, sinks, refuse, inlet };
};
const frame: Frame = {
  sequence: 4,
  exposureStartUs: 10,
  exposureEndUs: 20,
  format: 'GREY',
  widthPx: 2,
  heightPx: 1,
  strideBytes: 2,
  range: 'full',
  data: new Uint8Array([1, 2]),
};
const recording = () => {
  const lines: string[] = [];
  const header = headerOf({ config: smallConfig(), profile: smallProfile(), startedAtMs: 0, shutterSays: false });
  const recorder = createRecorder({ header, write: line => lines.push(line) });
  return { lines, recorder, inputs: () => lines.slice(1).map(line => JSON.parse(line)) };
};

describe('the door of a rig', () => {
  it('takes what a part says before anybody hears it', () => {
    const { rig, say, sinks } = setUp();
    const order: string[] = [];
    rig.button.listen(({ down }) => order.push(`heard ${down}, taken ${sinks.length}`));
    say.button({ kind: 'level', down: true, atUs: 5 } as never);
    expect(order).toEqual(['heard true, taken 1']);
    expect(sinks[0]).toMatchObject({ part: 'button', said: { kind: 'level', down: true, atUs: 5 } });
  });

  it('lets an input that comes inside another wait for its turn', () => {
    const { rig, say } = setUp();
    const order: string[] = [];
    rig.webcam.open(() => order.push('webcam'));
    rig.button.listen(() => {
      say.webcam({ kind: 'ready' } as never);
      order.push('button done');
    });
    say.button({ kind: 'level', down: true, atUs: 5 } as never);
    expect(order).toEqual(['button done', 'webcam']);
  });

  it('writes down nothing that nobody hears any more', () => {
    const { rig, say, inlet } = setUp();
    const { lines, recorder } = recording();
    const heard: string[] = [];
    const undo = rig.webcam.open(said => heard.push(said.kind));
    const direct = throughInlet(rig, { take: (part, said) => recorder.sink(0, part, said), note: inlet.note });
    direct.button.listen(() => {});
    undo();
    say.webcam({ kind: 'ready' } as never);
    expect(heard).toEqual([]);
    recorder.sink(1, 'webcam', { kind: 'ready', [unheard]: () => true });
    recorder.sink(1, 'disk', { kind: 'done' });
    expect(lines).toHaveLength(1);
  });

  it('drops what waited at the door when its listener was undone', () => {
    const { rig, say } = setUp();
    const heard: string[] = [];
    const undo = rig.webcam.open(said => heard.push(said.kind));
    rig.button.listen(() => {
      say.webcam({ kind: 'ready' } as never);
      undo();
    });
    say.button({ kind: 'level', down: true, atUs: 5 } as never);
    expect(heard).toEqual([]);
  });

  it('notes what is thrown inside a call, and throws it', () => {
    const { rig, sinks, refuse, clock } = setUp();
    clock.runUntil(77);
    refuse.energise = true;
    expect(() => rig.shutter.energise()).toThrow('no line');
    expect(sinks).toEqual([{ atUs: 77, part: 'shutter', said: { kind: 'threw', call: 'energise', why: 'no line' } }]);
  });

  it('says of a wire that ran empty what had been written, and nothing where more was written before that is heard', () => {
    const { rig, say } = setUp();
    const { recorder, inputs } = recording();
    let standsStill = false;
    const through = throughInlet(rig, {
      take(part, said, deliver) {
        // What was due while the program stood still comes before what it hears then.
        if (standsStill) through.printer.write(new Uint8Array([4]));
        recorder.sink(9, part, said);
        deliver();
      },
    });
    const heard: unknown[] = [];
    through.printer.open(one => heard.push(one));
    through.printer.write(new Uint8Array([1, 2, 3]));
    say.printer({ kind: 'drained' } as never);
    standsStill = true;
    say.printer({ kind: 'drained' } as never);
    // By another implementation: binascii.crc32 of Python.
    expect(inputs()).toEqual([{ t: 9, part: 'printer', kind: 'drained', bytes: 3, digest: '55bc801d' }]);
    expect(heard).toEqual([{ kind: 'drained' }]);
  });

  it('has a part that doesn’t say when it let go say nothing', () => {
    expect(setUp().rig.shutter.listen).toBeUndefined();
  });

  it('tells answers to different requests apart', () => {
    const { rig, say, sinks } = setUp();
    rig.album.keep(7, frame, { takenAtMs: null, pressToFrameUs: 0 }, () => {});
    say.keep({ kind: 'failed', why: 'full' } as never);
    rig.darkroom.develop(frame, { shot: 8, takenAtMs: null }, () => {});
    say.darkroom({ kind: 'failed', why: 'torn' } as never);
    expect(sinks.map(({ said }) => said)).toMatchObject([
      { kind: 'not-kept', shot: 7, why: 'full' },
      { kind: 'failed', shot: 8, why: 'torn' },
    ]);
  });
});

describe('a frame in a recording', () => {
  it('has a digest where somebody looked at it, and nobody else pays for one', () => {
    const { recorder, inputs } = recording();
    let touched = 0;
    const untouched = {
      ...frame,
      sequence: 5,
      get data() {
        touched++;
        return frame.data;
      },
    };
    recorder.sink(1, 'webcam', { kind: 'frame', frame: untouched });
    const chosen = { ...frame };
    recorder.sink(2, 'webcam', { kind: 'frame', frame: chosen });
    digestOfFrame(chosen);
    recorder.end(3);
    // By another implementation: binascii.crc32 of Python.
    expect(inputs()).toMatchObject([{ sequence: 5 }, { sequence: 4, digest: 'b6cc4292' }, { kind: 'end' }]);
    expect(inputs()[0].digest).toBeUndefined();
    expect(touched).toBe(0);
  });
});

describe('the ring', () => {
  it('keeps everything while there is room, as the recording itself', () => {
    const ring = createRing(1000);
    const text = ['{"format":"x"}\n', 'a\n', 'b\n'];
    for (const line of text) ring.write(line);
    expect(ring.text()).toBe(text.join(''));
  });

  it('lets the oldest go, keeps the header, and says how many are lost', () => {
    const ring = createRing(10_000);
    ring.write('{"format":"x"}\n');
    for (let i = 0; i < 100_000; i++) ring.write(`${String(i).padStart(9)}\n`);
    const [header, ...lines] = ring.text().trimEnd().split('\n');
    expect(JSON.parse(header)).toEqual({ format: 'x', lost: 99_000 });
    expect(lines).toHaveLength(1000);
    expect(Number(lines[0])).toBe(99_000);
    expect(Number(lines[999])).toBe(99_999);
    expect(ring.bytes).toBe(10_000);
  });
});
