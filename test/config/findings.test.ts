import { describe, expect, it } from 'vitest';
import { type BoardFacts, boardSchema } from '../../src/config/board.ts';
import type { Finding } from '../../src/config/finding.ts';
import { findAll } from '../../src/config/findings.ts';
import { loadProfile } from '../../src/config/load-profile.ts';
import { type Config, configSchema } from '../../src/config/schema.ts';

type Deep<T> = { [K in keyof T]?: T[K] extends object ? Deep<T[K]> : T[K] };

const node = (group: string, over = {}) => ({ group, ...over });
/** A board on which the default configuration finds everything; invented. */
const goodBoard = () => ({
  title: 'a board',
  commandLine: 'console=tty1 root=/dev/mmcblk0p2 quiet',
  user: { name: 'slipshutter', groups: ['gpio', 'video', 'dialout'] },
  chips: [
    {
      name: 'gpiochip0',
      label: 'pinctrl-x',
      lines: Array.from({ length: 54 }, (_, offset) => ({ offset, name: `GPIO${offset}`, user: '' })),
    },
  ],
  sysfsGpio: true,
  leds: ['ACT'],
  nodes: {
    '/dev/gpiochip0': node('gpio'),
    '/dev/video0': node('video'),
    '/dev/serial0': node('dialout', { real: '/dev/ttyS0' }),
  } as Record<string, object>,
  webcam: { card: 'cam', modes: [{ format: 'YUYV', widthPx: 1280, heightPx: 720, framesPerSecond: 30 }] },
  packages: ['koffi', 'onoff', 'serialport', 'epoll'],
  simd: true as boolean | undefined,
  disk: { freeMb: 8000 },
  clock: { year: 2026, synchronised: true, hardware: false },
});

const find = (change: (board: ReturnType<typeof goodBoard>) => unknown, settings: Deep<Config> = {}): Finding[] => {
  const board = goodBoard();
  change(board);
  const config = configSchema.parse(settings);
  return findAll({ config, profile: loadProfile(config.printer.profile), board: boardSchema.parse(board) });
};
const grave = (findings: readonly Finding[]) =>
  findings.filter(one => one.gravity !== 'note').map(one => `${one.gravity} ${one.setting}: ${one.what}`);
const nothing = () => {};

describe('check', () => {
  it('finds nothing wrong with a board that has everything, and says what it is good for', () => {
    const findings = find(nothing);
    expect(grave(findings)).toEqual([]);
    expect(findings.map(one => one.what)).toEqual([
      'a roll of 40 mm gives about 222 pictures of 64 mm',
      expect.stringMatching(/^room for about \d+ pictures/),
    ]);
  });

  it('says nothing of what it doesn’t know', () => {
    const config = configSchema.parse({});
    const findings = findAll({ config, profile: loadProfile('panel-58mm'), board: boardSchema.parse({}) });
    expect(grave(findings)).toEqual([]);
  });

  const cases: [string, Parameters<typeof find>[0], Deep<Config>, string][] = [
    ['no such chip', nothing, { gpio: { chip: 'gpiochip4' } }, "fault gpio.chip: there is no GPIO chip 'gpiochip4'"],
    ['no chip at all', board => (board.chips = []), {}, "fault gpio.chip: there is no GPIO chip 'gpiochip0'"],
    ['no such line', nothing, { button: { line: 60 } }, 'fault button.line: gpiochip0 has no line 60'],
    ['no such name', nothing, { lamp: { line: 'LAMP' } }, "fault lamp.line: gpiochip0 has no line named 'LAMP'"],
    [
      'a line in use',
      board => (board.chips[0].lines[27].user = 'spi0 CS1'),
      {},
      "fault shutter.line: line 27 is in use by 'spi0 CS1'",
    ],
    [
      'one pin under two names',
      nothing,
      { lamp: { line: 'GPIO17' } },
      'fault lamp.line: it is the same pin as button.line: 17',
    ],
    [
      'names by sysfs',
      nothing,
      { gpio: { access: 'sysfs' }, lamp: { line: 'GPIO22' } },
      "fault lamp.line: 'GPIO22' is a name",
    ],
    [
      'no sysfs in the kernel',
      board => (board.sysfsGpio = false),
      { gpio: { access: 'sysfs' } },
      'fault gpio.access: this kernel has no GPIO in /sys/class/gpio',
    ],
    [
      'no package for lines',
      board => (board.packages = ['serialport', 'koffi']),
      { gpio: { access: 'sysfs' } },
      'fault gpio.access: the package onoff isn’t installed, or doesn’t load',
    ],
    ['no such LED', nothing, { lamp: { led: 'PWR' } }, "fault lamp.led: there is no LED 'PWR'"],
    [
      'printer on the kernel’s console, through a link',
      board => (board.commandLine = 'console=ttyS0,115200n8 console=tty1'),
      {},
      'fault printer.device: /dev/serial0 is /dev/ttyS0, and that is the kernel’s console',
    ],
    [
      'printer on the kernel’s console, by its own name',
      board => (board.commandLine = 'quiet console=ttyS0'),
      { printer: { device: '/dev/ttyS0' } },
      'fault printer.device: /dev/ttyS0 is the kernel’s console',
    ],
    [
      'printer not there',
      board => (board.nodes['/dev/serial0'] = { there: false }),
      {},
      'fault printer.device: /dev/serial0 isn’t there',
    ],
    [
      'user not in the group',
      board => (board.user.groups = ['gpio', 'video']),
      {},
      'fault printer.device: the user slipshutter may not use /dev/serial0 (group dialout, mode 0660)',
    ],
    [
      'user not in the group of the lines',
      board => (board.user.groups = ['dialout', 'video']),
      {},
      'fault gpio.chip: the user slipshutter may not use /dev/gpiochip0 (group gpio, mode 0660)',
    ],
    [
      'lines that can’t be listed because their chip may not be opened',
      board => {
        Object.assign(board, { chips: undefined });
        board.user.groups = ['dialout', 'video'];
      },
      {},
      'fault gpio.chip: the user slipshutter may not use /dev/gpiochip0 (group gpio, mode 0660)',
    ],
    [
      'an LED that only root may switch',
      board => (board.nodes['/sys/class/leds/ACT/brightness'] = node('root', { mode: '0644' })),
      { lamp: { led: 'ACT' } },
      'fault lamp.led: the user slipshutter may not use /sys/class/leds/ACT/brightness (group root, mode 0644)',
    ],
    [
      'device for root only',
      board => (board.nodes['/dev/video0'] = node('video', { mode: '0600' })),
      {},
      'fault webcam.device: the user slipshutter may not use /dev/video0 (group video, mode 0600)',
    ],
    [
      'no package for serial',
      board => (board.packages = ['koffi']),
      {},
      'fault printer.link: the package serialport isn’t installed, or doesn’t load',
    ],
    [
      'no package for the webcam',
      board => (board.packages = ['onoff', 'serialport']),
      {},
      'fault webcam.device: the package koffi isn’t installed, or doesn’t load',
    ],
    ['format not offered', nothing, { webcam: { format: 'MJPEG' } }, 'fault webcam.format: cam doesn’t give MJPEG'],
    [
      'no format at all',
      board => (board.webcam.modes = []),
      {},
      'fault webcam.format: cam doesn’t give YUYV, GREY or MJPEG',
    ],
    [
      'size not offered',
      nothing,
      { webcam: { widthPx: 640 } },
      'warning webcam.widthPx: 640 × 720 isn’t among its sizes',
    ],
    [
      'too slow',
      board => (board.webcam.modes[0].framesPerSecond = 10),
      {},
      'warning webcam.framesPerSecond: at that size it gives 10 frames a second, not 30',
    ],
    [
      'line too slow',
      nothing,
      { printer: { baud: 9600 } },
      'warning printer.baud: rows with less than 30 % ink pass faster than 9600 baud feed them',
    ],
    [
      'supply too weak',
      nothing,
      { supply: { internalOhm: 5 } },
      'fault supply.internalOhm: 8 dots at once draw 0.2 A and pull the supply under its floor of 6.2 V',
    ],
    [
      'coil beyond its duty',
      nothing,
      { shutter: { lockoutMs: 100 } },
      'warning shutter.lockoutMs: two strokes of 25 ms a picture, as fast as allowed, are 33.3 % duty; the limit is 15 %',
    ],
    [
      'few pictures on a roll',
      nothing,
      { printer: { rollOuterMm: 18 } },
      'warning printer.rollOuterMm: a roll of 18 mm gives about 27 pictures of 64 mm',
    ],
    [
      'read-only disk',
      board => (board.disk = { freeMb: 900, readOnly: true } as never),
      {},
      'fault album.folder: /var/lib/slipshutter/album is on a read-only disk',
    ],
    [
      'no room',
      board => (board.disk.freeMb = 50),
      {},
      'fault album.folder: 50 MB are free, and 64 MB are to stay free',
    ],
    [
      'little room',
      board => (board.disk.freeMb = 100),
      {},
      'warning album.folder: room for about 36 pictures (100 MB free)',
    ],
    ['a board in 1970', board => (board.clock.year = 1970), {}, 'warning clock: the board believes it is 1970'],
    [
      'no sensor',
      board => (board.nodes['/sys/x'] = { there: false }),
      { supply: { sensor: '/sys/x' } },
      'warning supply.sensor: /sys/x isn’t there',
    ],
    [
      'no watchdog',
      board => (board.nodes['/dev/watchdog0'] = { there: false }),
      { watchdog: { device: '/dev/watchdog0' } },
      'fault watchdog.device: /dev/watchdog0 isn’t there',
    ],
  ];
  it.each(cases)('%s', (_, change, settings, wanted) => {
    const findings = find(change, settings);
    expect(grave(findings)).toEqual([wanted]);
    const [first] = findings;
    expect(first.why).not.toBe('');
    expect(first.mend).not.toBe('');
  });

  it('each finding says how to mend it with what this board has', () => {
    expect(find(nothing, { button: { line: 60 } })[0].mend).toContain('free lines are 0 (GPIO0), 1 (GPIO1)');
    expect(find(board => (board.user.groups = ['gpio', 'video']))[0].mend).toBe(
      'add it to that group: usermod -aG dialout slipshutter',
    );
    expect(find(nothing, { shutter: { lockoutMs: 100 } })[0].mend).toContain('at least 284');
    expect(grave(find(nothing, { shutter: { lockoutMs: 284 } }))).toEqual([]);
    expect(find(nothing, { gpio: { chip: 'x' } })[0].mend).toContain("gpiochip0 ('pinctrl-x')");
  });

  it('whoever may use a device is found right: root, owner, group, everybody', () => {
    const denied = (user: BoardFacts['user'], over: object) =>
      grave(
        find(board => {
          Object.assign(board, { user });
          board.nodes['/dev/serial0'] = node('dialout', over);
          board.nodes['/dev/video0'] = node('video', { mode: '0666' });
          board.nodes['/dev/gpiochip0'] = node('gpio', { mode: '0666' });
        }),
      ).length > 0;
    expect(denied({ name: 'root', groups: [] }, { mode: '0600' })).toBe(false);
    expect(denied({ name: 'ann', groups: [] }, { owner: 'ann', mode: '0600' })).toBe(false);
    expect(denied({ name: 'ann', groups: ['dialout'] }, { mode: '0660' })).toBe(false);
    expect(denied({ name: 'ann', groups: ['dialout'] }, { mode: '0640' })).toBe(true);
    expect(denied({ name: 'ann', groups: [] }, { mode: '0660' })).toBe(true);
    expect(denied({ name: 'ann', groups: [] }, { mode: '0666' })).toBe(false);
  });

  it('a line that the camera itself holds is no fault, nor parts that aren’t fitted', () => {
    expect(grave(find(board => (board.chips[0].lines[17].user = 'slipshutter button')))).toEqual([]);
    const bare = {
      button: { line: null },
      shutter: { line: null },
      lamp: { line: null },
      motor: { inLine: null, outLine: null },
    };
    expect(grave(find(board => Object.assign(board, { chips: [], packages: ['koffi', 'serialport'] }), bare))).toEqual(
      [],
    );
  });

  it('a supply that holds fewer dots than the profile is a note', () => {
    const findings = find(nothing, { supply: { internalOhm: 0.5 } });
    expect(grave(findings)).toEqual([]);
    expect(
      findings.some(one => one.setting === 'supply.internalOhm' && one.what.includes('not the profile’s 64')),
    ).toBe(true);
  });

  it('what goes into /sys is shut off by the service’s unit: a note, with the way out', () => {
    const notes = (settings: Deep<Config>) => find(nothing, settings).filter(one => one.what.includes('/sys'));
    expect(notes({})).toEqual([]);
    for (const settings of [{ lamp: { led: 'ACT' } }, { gpio: { access: 'sysfs' } }] as const)
      expect(notes(settings)).toMatchObject([
        { gravity: 'note', mend: expect.stringContaining('ProtectKernelTunables') },
      ]);
  });

  it('a processor without SIMD makes no pictures; where nothing is known of it, nothing is said', () => {
    expect(grave(find(board => (board.simd = false)))).toEqual([
      'fault picture.look: this processor doesn’t run WebAssembly with SIMD',
    ]);
    expect(grave(find(board => (board.simd = undefined)))).toEqual([]);
  });

  it('without epoll everything works: a note', () => {
    const findings = find(board => (board.packages = ['koffi', 'onoff', 'serialport']));
    expect(grave(findings)).toEqual([]);
    expect(findings.some(one => one.what.includes('epoll') && one.mend.includes('npm rebuild epoll'))).toBe(true);
  });

  it('where oldest pictures make room, little room is a note', () => {
    expect(grave(find(board => (board.disk.freeMb = 100), { album: { whenFull: 'oldest-goes' } }))).toEqual([]);
  });

  it('a printer file or USB printer has no console to clash with', () => {
    const change = (board: ReturnType<typeof goodBoard>) => {
      board.commandLine = 'console=ttyS0';
    };
    expect(grave(find(change, { printer: { link: 'file' } }))).toEqual([]);
    expect(grave(find(change, { printer: { link: 'usb', device: '/dev/usb/lp0' } }))).toEqual([]);
  });

  it('a printer that is asked through flow control can’t say why it stopped: a note', () => {
    const notes = (settings: Deep<Config>) =>
      find(nothing, settings).filter(({ setting, gravity }) => setting === 'printer.flow' && gravity === 'note');
    expect(notes({ printer: { flow: 'rtscts' } })).toHaveLength(1);
    expect(notes({ printer: { flow: 'rtscts', profile: 'receipt-58mm' } })).toEqual([]);
    expect(notes({ printer: { flow: 'none' } })).toEqual([]);
  });

  it('a clock that nobody set and that stops with the power is a note', () => {
    const findings = find(board => (board.clock.synchronised = false));
    expect(findings.at(-1)?.setting).toBe('clock');
    expect(find(board => Object.assign(board.clock, { synchronised: false, hardware: true })).at(-1)?.setting).not.toBe(
      'clock',
    );
  });
});
