import { describe, expect, it } from 'vitest';
import { chance } from '../../sim/random.ts';
import type { Dots } from '../../src/parts/darkroom.ts';
import type { JobSaid } from '../../src/parts/engine.ts';
import { encodeCode128 } from '../../src/print/code128.ts';
import { createPrintEngine } from '../../src/print/engine.ts';
import { createImprint } from '../../src/print/imprint.ts';
import { configOf, createDesk, type Desk, type DeskSetup, hex, noise } from './desk.ts';

const dots = noise(384, 300, 0.3);
const fine = { lost: false, paperOut: false, lidOpen: false, headHot: false, offLine: false, nearEnd: false };

const print = (desk: Desk, picture: Dots = dots) => desk.finish(heard => desk.engine.printBody(picture, heard));
/** What is on the paper's last lines. */
const onPaper = ({ printer: { paper } }: Desk, lines: number, above = 0): Dots =>
  paper.dots(paper.at - above - lines, paper.at - above);
const expectOnPaper = (desk: Desk, picture: Dots, above = 0) => {
  expect(Buffer.compare(onPaper(desk, picture.heightDots, above).data, picture.data)).toBe(0);
};
/** Starts a picture, lets it run for a while, then does something to the rig, and runs on until nothing more happens. */
const disturbed = (setup: DeskSetup, disturb: (desk: Desk) => void, forUs = 400_000) => {
  const desk = createDesk(setup);
  desk.clock.runUntil(1_000_000);
  const said: JobSaid[] = [];
  const undo = desk.engine.printBody(dots, one => said.push(one));
  desk.clock.runUntil(1_000_000 + forUs);
  disturb(desk);
  return { desk, said, undo };
};
const later = (desk: Desk, us: number) => desk.clock.runUntil(desk.clock.nowUs() + us);

const ways: [string, DeskSetup][] = [
  ['panel class, asked for its status', {}],
  ['panel class that never answers', { profile: { commands: { status: 'none' } } }],
  ['80 mm panel class', { profile: { widthDots: 576 }, config: { printer: { baud: 230_400 } } }],
  [
    'receipt class with automatic status',
    {
      profile: { bufferBytes: 4096, commands: { heat: 'none', status: 'automatic', motionUnits: true } },
      config: { printer: { baud: 1_000_000 } },
    },
  ],
  [
    'receipt class with graphics commands',
    {
      profile: { bufferBytes: 4096, commands: { image: 'graphics', heat: 'none', status: 'automatic' } },
      config: { printer: { baud: 1_000_000 } },
    },
  ],
  ['column images', { profile: { bufferBytes: 4096, commands: { image: 'column' } } }],
  ['USB', { profile: { bufferBytes: 4096 }, config: { printer: { link: 'usb' } } }],
  ['XON and XOFF', { config: { printer: { flow: 'xonxoff' } } }],
  ['hardware flow control', { config: { printer: { flow: 'rtscts' } } }],
];

describe.each(ways)('print engine, %s', (_, setup) => {
  it('prints body and tail, and nothing else', () => {
    const imprint = createImprint({ widthDots: setup.profile?.widthDots ?? 384, mark: 'SLIP', encode: encodeCode128 });
    const desk = createDesk({ ...setup, imprint });
    const picture = noise(setup.profile?.widthDots ?? 384, 336, 0.3);
    const body = print(desk, picture);
    expect(body.end.kind).toBe('done');
    const tail = desk.finish(heard => desk.engine.printTail(7, heard));
    expect(tail.end).toEqual({ kind: 'done', paperLines: imprint.tail(7).heightDots + 14 * 8 });
    const { paper } = desk.printer;
    expect(paper.at - paper.tearDots).toBe(
      body.end.kind === 'done' && tail.end.kind === 'done' ? body.end.paperLines + tail.end.paperLines : 0,
    );
    const above = (body.end.kind === 'done' ? body.end.paperLines : 0) - imprint.head.heightDots;
    const start = paper.tearDots;
    const read = (from: number, lines: number) => paper.dots(start + from, start + from + lines).data;
    expect(Buffer.compare(read(0, imprint.head.heightDots), imprint.head.data)).toBe(0);
    expect(Buffer.compare(read(imprint.head.heightDots, 336), picture.data)).toBe(0);
    expect(Buffer.compare(read(imprint.head.heightDots + above, 31), imprint.tail(7).data)).toBe(0);
    const stats = desk.printer.stats();
    expect(stats).toMatchObject({ bytesLost: 0, unknown: 0, characters: 0 });
    expect(desk.said).toEqual([{ kind: 'condition', condition: fine }]);
  });

  it('says the first dot, then progress, and ends when everything is on paper', () => {
    const desk = createDesk(setup);
    const picture = noise(setup.profile?.widthDots ?? 384, 336, 0.3);
    const { said } = print(desk, picture);
    const lines = said.flatMap(one => (one.kind === 'progress' ? [one.lines] : []));
    expect(lines[0]).toBe(1);
    expect(lines).toEqual([...lines].sort((a, b) => a - b));
    expect(said.filter(one => one.kind === 'progress').every(one => one.ofLines === 336)).toBe(true);
    expectOnPaper(desk, picture);
  });

  it('leaves the printer fit when a picture is taken back at any moment', () => {
    for (const forUs of [0, 1, 5000, 20_000, 61_803, 123_456, 250_001, 400_000]) {
      const { desk, said, undo } = disturbed(setup, () => {}, forUs);
      const picture = noise(setup.profile?.widthDots ?? 384, 96, 0.5, 3);
      undo();
      undo();
      const before = said.length;
      expect(print(desk, picture).end).toEqual({ kind: 'done', paperLines: 96 });
      expect(said.length).toBe(before);
      expectOnPaper(desk, picture);
      expect(desk.printer.stats()).toMatchObject({ bytesLost: 0, unknown: 0, characters: 0 });
    }
  });

  it('is found fit by a new program after the old one was killed at any moment', () => {
    for (const forUs of [3000, 100_000, 333_333]) {
      const { desk } = disturbed(setup, () => {}, forUs);
      desk.kill();
      const config = configOf(setup.config);
      const engine = createPrintEngine({
        clock: desk.clock,
        printer: desk.printer.port,
        profile: desk.profile,
        config,
        imprint: null,
      });
      engine.open(() => {});
      const picture = noise(setup.profile?.widthDots ?? 384, 96, 0.5, 3);
      const ended: JobSaid[] = [];
      engine.printBody(picture, one => ended.push(one));
      later(desk, 20e6);
      expect(ended.at(-1)?.kind).toBe('done');
      expectOnPaper(desk, picture);
    }
  });

  it('stops when the wire is gone, and prints whole again when it is back', () => {
    const { desk, said } = disturbed(setup, rig => rig.printer.control.unplug());
    later(desk, 10_000);
    expect(said.at(-1)?.kind).toBe('stopped');
    const paperLines = said.at(-1)?.kind === 'stopped' ? (said.at(-1) as { paperLines: number }).paperLines : -1;
    expect(paperLines).toBeGreaterThan(20);
    expect(paperLines).toBeLessThan(300);
    expect(desk.condition()).toEqual({ ...fine, lost: true });
    expect(desk.finish(heard => desk.engine.printBody(dots, heard)).end).toEqual({ kind: 'stopped', paperLines: 0 });
    desk.printer.control.replug();
    later(desk, 3e6);
    expect(desk.condition()).toEqual(fine);
    const picture = noise(setup.profile?.widthDots ?? 384, 96, 0.5, 3);
    expect(print(desk, picture).end.kind).toBe('done');
    expectOnPaper(desk, picture);
  });
});

const troubles: [string, (desk: Desk, on: boolean) => void, Partial<typeof fine>][] = [
  ['paper out', (desk, on) => desk.printer.control.paperOut(on), { paperOut: true }],
  ['lid open', (desk, on) => desk.printer.control.lid(on), { lidOpen: true }],
  ['head hot', (desk, on) => desk.printer.control.hot(on), { headHot: true }],
  ['cutter jammed', (desk, on) => desk.printer.control.jamCutter(on), { offLine: true }],
  ['feed button held', (desk, on) => desk.printer.control.feedButton(on), { offLine: true }],
];
const speaking = ways.filter(([, setup]) => setup.profile?.commands?.status !== 'none');

describe.each(speaking)('trouble at the printer, %s', (_, setup) => {
  it.each(troubles)(
    '%s: stops within a second or two, says why, and prints whole again once healed',
    (_name, make, expected) => {
      const { desk, said } = disturbed({ ...setup, profile: { ...setup.profile } }, rig => make(rig, true), 200_000);
      later(desk, 6e6);
      expect(said.at(-1)?.kind).toBe('stopped');
      // Flow control that holds everything back leaves no way to ask why.
      const held = setup.config?.printer?.link === 'usb' || setup.config?.printer?.flow !== undefined;
      if (!held) expect(desk.condition()).toEqual({ ...fine, ...expected });
      expect(print(desk).end).toEqual({ kind: 'stopped', paperLines: 0 });
      make(desk, false);
      later(desk, 4e6);
      expect(desk.condition()).toEqual(fine);
      const picture = noise(setup.profile?.widthDots ?? 384, 96, 0.5, 3);
      expect(print(desk, picture).end).toEqual({ kind: 'done', paperLines: 96 });
      expectOnPaper(desk, picture);
    },
  );

  it('near end is a warning that stops nothing', () => {
    const { desk, said } = disturbed(setup, rig => rig.printer.control.nearEnd(true), 100_000);
    later(desk, 5e6);
    expect(said.at(-1)?.kind).toBe('done');
    expect(desk.condition()).toEqual({ ...fine, nearEnd: true });
  });

  it('a printer that falls silent counts as lost, until it speaks again', () => {
    const desk = createDesk(setup);
    later(desk, 1e6);
    desk.printer.control.silent(true);
    later(desk, 12e6);
    expect(desk.condition()).toEqual({ ...fine, lost: true });
    desk.printer.control.silent(false);
    later(desk, 5e6);
    expect(desk.condition()).toEqual(fine);
    expect(print(desk, noise(setup.profile?.widthDots ?? 384, 48, 0.5)).end.kind).toBe('done');
  });

  it('a picture isn’t done while the printer, asked, doesn’t say so', () => {
    const { desk, said } = disturbed(setup, rig => rig.printer.control.power(false), 50_000);
    later(desk, 20e6);
    expect(said.at(-1)?.kind).toBe('stopped');
    expect(desk.condition()?.lost).toBe(true);
    desk.printer.control.power(true);
    later(desk, 6e6);
    expect(desk.condition()).toEqual(fine);
    const picture = noise(setup.profile?.widthDots ?? 384, 48, 0.5, 3);
    expect(print(desk, picture).end.kind).toBe('done');
    expectOnPaper(desk, picture);
  });
});

describe('print engine', () => {
  it('lets the printer rest after power-up, then brings it between commands and initialises it', () => {
    const desk = createDesk({ profile: { commands: { sleep: true } } });
    desk.clock.runUntil(504_000);
    expect(desk.printer.stats().bytesReceived).toBe(0);
    desk.clock.runUntil(1_200_000);
    desk.printer.stats();
    const once = 24 * 48 + 6 + 12;
    // Before its first word nobody knows whether it stood still and dropped all of it.
    expect(desk.wire().length).toBe(2 * once);
    for (const fit of [desk.wire().subarray(0, once), desk.wire().subarray(once)]) {
      expect(fit.findIndex(byte => byte !== 0)).toBe(24 * 48);
      expect(hex(fit.subarray(-18, -12))).toBe('1B 40 1B 38 00 00');
      expect(hex(fit.subarray(-12))).toBe('10 04 01 10 04 02 10 04 03 10 04 04');
    }
    expect(desk.said).toEqual([{ kind: 'condition', condition: fine }]);
  });

  it('calls a printer lost that should answer and never did, and takes it when it is switched on', () => {
    const desk = createDesk();
    desk.printer.control.power(false);
    const said: JobSaid[] = [];
    desk.engine.printBody(dots, one => said.push(one));
    later(desk, 8e6);
    expect(said).toEqual([{ kind: 'stopped', paperLines: 0 }]);
    expect(desk.condition()).toEqual({ ...fine, lost: true });
    desk.printer.control.power(true);
    later(desk, 5e6);
    expect(desk.condition()).toEqual(fine);
    expect(print(desk).end.kind).toBe('done');
    expectOnPaper(desk, dots);
  });

  it('begins no picture on a printer that has just left a question unanswered, though it may be there again', () => {
    let done = 0;
    for (let backUs = 0; backUs < 1_000_000; backUs += 40_000) {
      const desk = createDesk();
      later(desk, 3e6);
      desk.printer.control.power(false);
      // Within that it was asked once, 2 s after the last time, and had 0.7 s to answer.
      later(desk, 2.75e6);
      const said: JobSaid[] = [];
      desk.engine.printBody(dots, one => said.push(one));
      later(desk, backUs);
      desk.printer.control.power(true);
      later(desk, 20e6);
      expect(desk.condition()).toEqual(fine);
      if (said.at(-1)?.kind !== 'done') continue;
      done++;
      expectOnPaper(desk, dots);
    }
    expect(done).toBeGreaterThan(0);
  });

  it('makes a printer fit anew that stood still, and goes on by itself just when it is found', () => {
    // It kept its power and waits for most of a command; its automatic status was switched on before.
    const setup: DeskSetup = {
      profile: { bufferBytes: 256, commands: { heat: 'none', image: 'graphics', status: 'automatic' } },
      config: { printer: { flow: 'none' } },
    };
    for (let healedUs = 400_000; healedUs < 1_400_000; healedUs += 20_000) {
      const { desk } = disturbed(setup, () => {}, 60_000);
      desk.kill();
      desk.printer.control.paperOut(true);
      const engine = createPrintEngine({
        clock: desk.clock,
        printer: desk.printer.port,
        profile: desk.profile,
        config: configOf(setup.config),
        imprint: null,
      });
      engine.open(() => {});
      later(desk, healedUs);
      desk.printer.control.paperOut(false);
      later(desk, 5e6);
      desk.finish(heard => engine.printBody(dots, heard));
      expectOnPaper(desk, dots);
    }
  });

  it('takes one job at a time, and one before it knows the printer', () => {
    const desk = createDesk();
    const said: JobSaid[] = [];
    desk.engine.printBody(dots, one => said.push(one));
    expect(() => desk.engine.feed(8, () => {})).toThrow(/one job at a time/);
    later(desk, 10e6);
    expect(said.at(-1)).toEqual({ kind: 'done', paperLines: 300 });
    expectOnPaper(desk, dots);
  });

  it('lets go of everything when it is closed', () => {
    const desk = createDesk({ closed: true });
    const close = desk.engine.open(() => {});
    desk.clock.runUntil(1e6);
    desk.engine.printBody(dots, () => {});
    desk.clock.runUntil(1.2e6);
    close();
    later(desk, 1e6);
    const { bytesReceived } = desk.printer.stats();
    later(desk, 60e6);
    expect(desk.printer.stats().bytesReceived).toBe(bytesReceived);
    expect(desk.clock.pending).toBe(0);
  });

  it('feeds forward to the line, and back where the printer can', () => {
    const desk = createDesk({ profile: { commands: { reverse: true } } });
    expect(desk.finish(heard => desk.engine.feed(300, heard)).end).toEqual({ kind: 'done', paperLines: 300 });
    const { at } = desk.printer.paper;
    expect(desk.finish(heard => desk.engine.feed(-20, heard)).end).toEqual({ kind: 'done', paperLines: -20 });
    expect(desk.printer.paper.at).toBe(at - 20);
    const forwardOnly = createDesk();
    expect(forwardOnly.finish(heard => forwardOnly.engine.feed(-20, heard)).end).toEqual({
      kind: 'done',
      paperLines: 0,
    });
  });

  it('prints a tail without imprint as white up to the tear edge', () => {
    const desk = createDesk();
    print(desk);
    const { at } = desk.printer.paper;
    expect(desk.finish(heard => desk.engine.printTail(1, heard)).end).toEqual({ kind: 'done', paperLines: 120 });
    expect(desk.printer.paper.at).toBe(at + 120);
  });

  it('wakes a printer that sleeps by itself', () => {
    for (const commands of [{ status: 'none' }, { status: 'polled' }] as const) {
      const desk = createDesk({ profile: { commands, quirks: { sleepsAfterS: 1 } } });
      later(desk, 30e6);
      expect(desk.condition()).toEqual(fine);
      expect(print(desk).end.kind).toBe('done');
      expectOnPaper(desk, dots);
      expect(desk.printer.stats()).toMatchObject({ bytesLost: 0, unknown: 0, characters: 0 });
    }
  });

  it('hears the printer’s own feed button', () => {
    const desk = createDesk();
    for (const heldUs of [3e6, 10e6]) {
      later(desk, 1e6);
      const { at } = desk.printer.paper;
      desk.said.length = 0;
      desk.printer.control.feedButton(true);
      later(desk, heldUs);
      desk.printer.control.feedButton(false);
      later(desk, 3e6);
      const fed = desk.said.filter(one => one.kind === 'fed');
      expect(fed).toEqual([
        { kind: 'fed', feeding: true },
        { kind: 'fed', feeding: false, paperLines: expect.any(Number) },
      ]);
      // It is asked every two seconds at rest, every second when it can't print: the account is as exact as that.
      const lines = fed[1].kind === 'fed' && !fed[1].feeding ? fed[1].paperLines : Number.NaN;
      expect(Math.abs(lines - (desk.printer.paper.at - at))).toBeLessThan(2.1 * 400);
    }
  });

  it('minds no answer that image bytes gave rise to', () => {
    const picture = noise(384, 300, 0.3);
    for (let n = 1; n <= 4; n++) picture.data.set([0x10, 0x04, n], 2000 * n);
    const desk = createDesk();
    later(desk, 1e6);
    expect(print(desk, picture).end.kind).toBe('done');
    expectOnPaper(desk, picture);
    expect(desk.said).toEqual([{ kind: 'condition', condition: fine }]);
  });

  it('believes nothing of a printer that is said not to answer', () => {
    const desk = createDesk({ profile: { commands: { status: 'none' } } });
    later(desk, 1e6);
    desk.printer.control.says([0x30, 0x00, 0x0c, 0x00, 0x72]);
    later(desk, 1e6);
    expect(desk.condition()).toEqual(fine);
  });

  it('waits for no answer from a file', () => {
    const desk = createDesk({
      config: { printer: { link: 'file' } },
      profile: { bufferBytes: 4096 },
      line: { kind: 'usb' },
    });
    desk.printer.control.silent(true);
    expect(print(desk, noise(384, 64, 0.3)).end.kind).toBe('done');
    expect(desk.condition()).toEqual(fine);
  });

  it('is ready again after any noise on the wire back', () => {
    for (let seed = 1; seed <= 25; seed++) {
      const draw = chance(seed);
      const desk = createDesk({ profile: { commands: { status: draw.pick(['polled', 'automatic'] as const) } } });
      later(desk, 1e6);
      const undo = desk.engine.printBody(dots, () => {});
      for (let i = 0; i < 60; i++) {
        // No XOFF: that would be a printer that asks to be left alone.
        const bytes = Array.from({ length: draw.whole(1, 6) }, () => draw.whole(0, 255)).filter(byte => byte !== 0x13);
        desk.printer.control.says(bytes);
        later(desk, draw.whole(1, 200_000));
      }
      undo();
      later(desk, 10e6);
      expect(desk.condition()).toEqual(fine);
      expect(print(desk, noise(384, 48, 0.5)).end.kind).toBe('done');
    }
  });

  it('survives bytes that make no sense, and halves', () => {
    const desk = createDesk();
    later(desk, 1e6);
    desk.printer.control.says([0x10, 0x00, 0xff, 0x16, 0x80, 0x7e, 0x12, 0x1a, 0x00]);
    later(desk, 4e6);
    expect(desk.condition()).toEqual(fine);
    expect(print(desk).end.kind).toBe('done');
  });
});

describe('flow control', () => {
  const slow = (setup: DeskSetup, slowness: number) =>
    createDesk({ ...setup, mechanism: m => ({ ...m, motor: { ...m.motor, slowness } }) });

  it.each(['xonxoff', 'rtscts'] as const)('%s holds a printer that is a fifth slower than its numbers', flow => {
    const desk = slow({ config: { printer: { flow, baud: 230_400 } } }, 1.2);
    const { end } = print(desk);
    expect(end.kind).toBe('done');
    later(desk, 20_000);
    expectOnPaper(desk, dots);
    expect(desk.printer.stats().bytesLost).toBe(0);
  });

  it.each(['polled', 'none'] as const)(
    'is heeded even where nobody spoke of it: XOFF among the answers, status %s',
    status => {
      const desk = slow(
        {
          profile: { bufferBytes: 1024, commands: { status } },
          config: { printer: { baud: 230_400 } },
          line: { printerFlow: 'xonxoff' },
        },
        1.05,
      );
      expect(print(desk, noise(384, 560, 0.3)).end.kind).toBe('done');
      expect(desk.printer.stats()).toMatchObject({ bytesLost: 0, unknown: 0, characters: 0 });
    },
  );

  it('is not needed while the printer is a little slower than its numbers', () => {
    const desk = slow({ profile: { bufferBytes: 4096 }, config: { printer: { baud: 230_400 } } }, 1.03);
    expect(print(desk).end.kind).toBe('done');
    expectOnPaper(desk, dots);
    expect(desk.printer.stats().bytesLost).toBe(0);
  });

  it('is not needed by a printer of 256 bytes that is as much slower as its profile says', () => {
    const config = { printer: { baud: 230_400 } };
    for (const slowness of [1, 1.005, 1.01]) {
      const told = slow({ profile: { quirks: { slowerByPercent: 1.5 } }, config }, slowness);
      expect(print(told, noise(384, 560, 0.35)).end.kind).toBe('done');
      expect(told.printer.stats()).toMatchObject({ bytesLost: 0, starvedLines: 0 });
    }
    const untold = slow({ config }, 1.01);
    print(untold, noise(384, 560, 0.35));
    expect(untold.printer.stats().bytesLost).toBeGreaterThan(0);
  });

  // The questions wait behind the busy line too: then time alone tells, whatever the printer would have answered.
  it.each([
    ['xonxoff', 'none'],
    ['rtscts', 'none'],
    ['xonxoff', 'polled'],
    ['rtscts', 'polled'],
    ['rtscts', 'automatic'],
  ] as const)('%s that holds for seconds means off line, and heals; status %s', (flow, status) => {
    const setup: DeskSetup = {
      profile: { commands: { status } },
      config: { printer: { flow } },
      mechanism: m => ({ ...m, quirks: { ...m.quirks, busyOffLine: true } }),
    };
    const { desk, said } = disturbed(setup, rig => rig.printer.control.lid(true), 100_000);
    later(desk, 8e6);
    expect(said.at(-1)?.kind).toBe('stopped');
    const condition = desk.condition();
    // An automatic status comes by itself.
    if (status === 'automatic') expect(condition).toMatchObject({ lidOpen: true });
    else expect(condition).toMatchObject({ offLine: true, lidOpen: false });
    desk.printer.control.lid(false);
    later(desk, 4e6);
    expect(desk.condition()).toEqual(fine);
    const picture = noise(384, 96, 0.5, 3);
    expect(print(desk, picture).end.kind).toBe('done');
    expectOnPaper(desk, picture);
  });
});

describe('heat and supply', () => {
  const black = noise(384, 800, 1);

  it('rests before a picture that would get the head too warm, and says how long', () => {
    const desk = createDesk({ profile: { head: { averageWatts: 3 } } });
    later(desk, 1e6);
    expect(desk.engine.restUs()).toBe(0);
    let warmest = 0;
    let rested = 0;
    for (let i = 0; i < 6; i++) {
      rested = desk.engine.restUs();
      const { end } = print(desk, black);
      expect(end.kind).toBe('done');
      warmest = Math.max(warmest, desk.printer.headC());
    }
    expect(rested).toBeGreaterThan(1e6);
    expect(warmest).toBeLessThan(25 + 3 * 6 + 1);
    expect(desk.condition()).toEqual(fine);
    later(desk, rested * 2);
    expect(desk.engine.restUs()).toBe(0);
  });

  it('follows the head’s temperature as the virtual head has it', () => {
    const desk = createDesk();
    later(desk, 1e6);
    print(desk, black);
    const modelUs = desk.engine.restUs();
    const after = desk.printer.headC() - 25;
    // Two pictures of that kind more would be too warm: the rest follows from the same first-order law.
    expect(modelUs).toBeCloseTo(Math.max(0, 25e6 * Math.log(after / (36 - after))), -5);
  });

  it('never sags the supply under its floor, coil and board drawing too', () => {
    for (const internalOhm of [0.1, 0.3, 0.6]) {
      const desk = createDesk({ config: { supply: { internalOhm } } });
      print(desk, black);
      const volts = desk.traces.of('supply').map(({ value }) => Number(value));
      const coil = 7.4 / 12;
      expect(Math.min(...volts) - coil * internalOhm).toBeGreaterThanOrEqual(6.2 - 0.001);
      expect(desk.engine.coilWaitUs?.(25_000)).toBe(0);
    }
  });

  it('makes the coil wait for dark rows of a printer that can’t be told to heat less at once', () => {
    const rows = noise(384, 240, y => (y >= 80 && y < 160 ? 1 : 0.05));
    const setup: DeskSetup = {
      profile: { commands: { heat: 'none', status: 'none' }, head: { dotsAtOnce: 384 } },
      config: { printer: { baud: 230_400 } },
    };
    const desk = createDesk(setup);
    later(desk, 1e6);
    const waits: number[] = [];
    let ended = false;
    desk.engine.printBody(rows, one => {
      ended = one.kind === 'done';
    });
    while (!ended && desk.clock.step(10e6)) waits.push(desk.engine.coilWaitUs?.(25_000) ?? -1);
    const longest = Math.max(...waits);
    expect(waits[0]).toBe(0);
    expect(longest).toBeGreaterThan(80 * 2500);
    expect(longest).toBeLessThan(80 * 2500 + 30_000);
    expect(waits.at(-1)).toBe(0);
  });
});
