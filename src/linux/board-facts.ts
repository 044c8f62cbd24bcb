import {
  closeSync,
  constants,
  existsSync,
  openSync,
  readdirSync,
  readFileSync,
  realpathSync,
  statfsSync,
  statSync,
} from 'node:fs';
import { hostname, userInfo } from 'node:os';
import { dirname } from 'node:path';
import type { BoardFacts, BoardNode } from '../config/board.ts';
import { sysfsExport } from '../config/find-pins.ts';
import type { Config } from '../config/schema.ts';
import { validate } from '../picture/web-assembly.ts';
import * as gpio from './gpio/uapi.ts';
import { findLibc, type Libc, optionalPackage } from './native.ts';
import { enumerate } from './v4l2/enumerate.ts';
import { ioctl } from './v4l2/layout.ts';
import * as v4l2 from './v4l2/uapi.ts';

/** The least module that needs SIMD: a function that gives a `v128` (WebAssembly specification 2.0, binary format). */
const simdModule = Uint8Array.of(
  ...[0, 97, 115, 109, 1, 0, 0, 0], // magic and version
  ...[1, 5, 1, 96, 0, 1, 123], // type: [] → [v128]
  ...[3, 2, 1, 0], // function of that type
  ...[10, 8, 1, 6, 0, 65, 0, 253, 15, 11], // i32.const 0, i8x16.splat
);

const text = (path: string): string => {
  try {
    return readFileSync(path, 'utf8').replaceAll('\0', '').trim();
  } catch {
    return '';
  }
};

const namesIn = (path: string): string[] => {
  try {
    return readdirSync(path);
  } catch {
    return [];
  }
};

/** `name:x:1000:…` files of /etc: names by their number. */
const namesById = (path: string): Map<number, string> =>
  new Map(
    text(path)
      .split('\n')
      .map(line => line.split(':'))
      .map(([name, , id]) => [Number(id), name]),
  );

/** Groups of a user by /etc/passwd and /etc/group; null where there is no such user. */
const findUser = (name: string): BoardFacts['user'] | null => {
  const own = text('/etc/passwd')
    .split('\n')
    .map(line => line.split(':'))
    .find(([user]) => user === name);
  if (!own) return null;
  const groups = text('/etc/group')
    .split('\n')
    .map(line => line.split(':'))
    .filter(([, , id, members]) => id === own[3] || members?.split(',').includes(name))
    .map(([group]) => group);
  return { name, groups };
};

const nodeAt = (path: string): BoardNode => {
  try {
    const { uid, gid, mode } = statSync(path);
    const owner = namesById('/etc/passwd').get(uid) ?? String(uid);
    const group = namesById('/etc/group').get(gid) ?? String(gid);
    return { there: true, real: realpathSync(path), owner, group, mode: `0${(mode & 0o777).toString(8)}` };
  } catch {
    return { there: false, owner: 'root', group: 'root', mode: '0660' };
  }
};

/** With an open device; null where it can't be opened. */
const withDevice = <T>(path: string, act: (fd: number) => T): T | null => {
  let fd: number;
  try {
    fd = openSync(path, constants.O_RDWR | constants.O_NONBLOCK);
  } catch {
    return null;
  }
  try {
    return act(fd);
  } catch {
    return null;
  } finally {
    closeSync(fd);
  }
};

/** Chips, lines and their users; nothing is requested, so nobody is disturbed. */
const readChips = (libc: Libc): BoardFacts['chips'] | undefined => {
  const names = namesIn('/dev').filter(name => /^gpiochip\d+$/.test(name));
  const chips = names.map(name =>
    withDevice(`/dev/${name}`, fd => {
      const info = gpio.emptyChipInfo();
      libc.ioctl(fd, gpio.chipInfoIoctl, info);
      const { label, lines: count } = gpio.readChipInfo(info);
      const lines = Array.from({ length: count }, (_, offset) => {
        const bytes = gpio.lineInfoOf(offset);
        libc.ioctl(fd, gpio.lineInfoIoctl, bytes);
        const line = gpio.readLineInfo(bytes);
        return { offset, name: line.name, user: line.used ? line.consumer || 'the kernel' : '' };
      });
      return { name, label, lines };
    }),
  );
  // A chip that may not be opened isn't one that is missing.
  return chips.some(chip => chip === null) ? undefined : chips.filter(chip => chip !== null);
};

const readWebcam = (libc: Libc, { device, widthPx, heightPx }: Config['webcam']): BoardFacts['webcam'] | undefined =>
  withDevice(device, fd => {
    const capability = new Uint8Array(104);
    libc.ioctl(fd, ioctl.capability, capability);
    const codes = enumerate(libc, fd, ioctl.enumerateFormats, v4l2.formatDescriptionOf, v4l2.readFormatDescription);
    const modes = v4l2.pixelFormats
      .filter(({ code }) => codes.includes(code))
      .flatMap(({ format, code }) =>
        enumerate(libc, fd, ioctl.enumerateSizes, i => v4l2.frameSizeOf(i, code), v4l2.readFrameSize).map(size => {
          // A range of sizes is asked at the wanted one.
          const [w, h] = size.kind === 'exact' ? [size.widthPx, size.heightPx] : [widthPx, heightPx];
          const rates = enumerate(
            libc,
            fd,
            ioctl.enumerateIntervals,
            i => v4l2.frameIntervalOf(i, code, w, h),
            v4l2.readFrameInterval,
          );
          const fastest = Math.max(...rates.map(({ framesPerSecond }) => framesPerSecond));
          return { format, widthPx: w, heightPx: h, framesPerSecond: Number.isFinite(fastest) ? fastest : null };
        }),
      );
    return { card: v4l2.readCapability(capability).card, modes };
  }) ?? undefined;

const readDisk = (folder: string): BoardFacts['disk'] => {
  let path = folder;
  while (!existsSync(path) && dirname(path) !== path) path = dirname(path);
  const { bavail, bsize } = statfsSync(path);
  const mounts = text('/proc/mounts')
    .split('\n')
    .map(line => line.split(' '))
    .filter(([, at]) => path === at || path.startsWith(at === '/' ? '/' : `${at}/`))
    .sort((a, b) => b[1].length - a[1].length);
  const readOnly = mounts[0]?.[3]?.split(',').includes('ro') ?? false;
  return { freeMb: Math.round((bavail * bsize) / 1e5) / 10, readOnly };
};

const readClock = (): BoardFacts['clock'] => ({
  year: new Date().getUTCFullYear(),
  // systemd-timesyncd leaves this file once it has heard from a server.
  synchronised: existsSync('/run/systemd/timesync') ? existsSync('/run/systemd/timesync/synchronized') : null,
  hardware: existsSync('/dev/rtc0') || existsSync('/dev/rtc'),
});

/**
 * What this board has of what the configuration asks for, from /proc, /sys and /dev. Nothing is switched, and no device is
 * taken from who uses it.
 * @param userName Who runs the camera.
 */
export const gatherBoardFacts = (config: Config, userName: string): BoardFacts => {
  const { webcam, printer, supply, watchdog, lamp, album } = config;
  const libc = findLibc();
  const named = [webcam.device, printer.device, supply.sensor, watchdog.device].filter(path => path.startsWith('/'));
  const chipPaths = namesIn('/dev')
    .filter(name => /^gpiochip\d+$/.test(name))
    .map(name => `/dev/${name}`);
  const exporter = config.gpio.access === 'sysfs' ? [sysfsExport] : [];
  const light = lamp.led === '' ? [] : [`/sys/class/leds/${lamp.led}/brightness`];
  const paths = [...named, ...chipPaths, ...exporter, ...light];
  return {
    title: text('/proc/device-tree/model') || hostname(),
    // Only what is asked about: the rest is nobody's business in a file that is passed on.
    commandLine: text('/proc/cmdline')
      .split(/\s+/)
      .filter(word => word.startsWith('console='))
      .join(' '),
    user: findUser(userName) ?? { name: userInfo().username, groups: [] },
    chips: libc ? readChips(libc) : undefined,
    sysfsGpio: existsSync(sysfsExport),
    leds: namesIn('/sys/class/leds'),
    nodes: Object.fromEntries(paths.map(path => [path, nodeAt(path)])),
    webcam: libc ? readWebcam(libc, webcam) : undefined,
    packages: ['koffi', 'onoff', 'serialport', 'epoll'].filter(name => optionalPackage(name) !== null),
    simd: validate(simdModule),
    disk: readDisk(album.folder),
    clock: readClock(),
  };
};
