import type { BoardFacts, BoardNode } from './board.ts';
import { linesInUse } from './consistent.ts';
import { type Checked, type Finding, finding } from './finding.ts';

/** Whether this user may read and write a node. */
const mayUse = ({ owner, group, mode }: BoardNode, user: NonNullable<BoardFacts['user']>): boolean => {
  if (user.name === 'root') return true;
  const bits = Number.parseInt(mode, 8);
  if (owner === user.name) return (bits & 0o600) === 0o600;
  if (user.groups.includes(group)) return (bits & 0o060) === 0o060;
  return (bits & 0o006) === 0o006;
};

/** There and permitted, for one device that a setting names. */
export const deviceFindings = (
  { board }: Checked,
  setting: string,
  path: string,
  why: string,
  missing: string,
): Finding[] => {
  const node = board.nodes[path];
  if (!node) return [];
  if (!node.there) return [finding('fault', setting, `${path} isn’t there`, why, missing)];
  if (!board.user || mayUse(node, board.user)) return [];
  const { name } = board.user;
  const bits = Number.parseInt(node.mode, 8);
  const mend =
    (bits & 0o060) === 0o060
      ? `add it to that group: usermod -aG ${node.group} ${name}`
      : 'install the rules of systemd/, which give the device to a group';
  return [
    finding(
      'fault',
      setting,
      `the user ${name} may not use ${path} (group ${node.group}, mode ${node.mode})`,
      why,
      mend,
    ),
  ];
};

/** Device names after each `console=` of the kernel's command line. */
const consolesOf = (commandLine: string): string[] =>
  [...commandLine.matchAll(/(?:^|\s)console=([^\s,]+)/g)].map(([, name]) => name);

const consoleFindings = ({ config, board }: Checked): Finding[] => {
  if (config.printer.link !== 'serial') return [];
  const { device } = config.printer;
  const real = board.nodes[device]?.real ?? device;
  const clash = consolesOf(board.commandLine).find(name => [device, real].includes(`/dev/${name}`));
  if (clash === undefined) return [];
  return [
    finding(
      'fault',
      'printer.device',
      `${device}${real === device ? '' : ` is ${real}, and that`} is the kernel’s console`,
      'boot messages would be printed, and a login prompt with them; they disturb pictures at any time',
      `take console=${clash} out of the kernel’s command line and its login service out of the start, or use another port`,
    ),
  ];
};

export const findPrinter = (checked: Checked): Finding[] => {
  const { config, board } = checked;
  const { link, device, flow } = config.printer;
  if (link === 'file') return [];
  const missing =
    link === 'usb'
      ? 'is it plugged in and switched on? lsusb shows it'
      : 'is the port enabled in the boot configuration, or the adapter plugged in?';
  const findings = deviceFindings(checked, 'printer.device', device, 'nothing can be printed', missing);
  if (link === 'serial' && board.packages && !board.packages.includes('serialport'))
    findings.push(
      finding(
        'fault',
        'printer.link',
        'the package serialport isn’t installed, or doesn’t load',
        'a serial printer is reached by it',
        'npm install serialport',
      ),
    );
  if (link === 'serial' && flow === 'none' && checked.profile.commands.status === 'none')
    findings.push(
      finding(
        'warning',
        'printer.flow',
        'neither flow control nor status is configured',
        'the camera can’t know when paper is out: pictures are lost on paper (not in the album)',
        'wire and set rtscts or xonxoff where the printer has it, or a profile with status',
      ),
    );
  if (link === 'serial' && flow !== 'none' && checked.profile.commands.status === 'polled')
    findings.push(
      finding(
        'note',
        'printer.flow',
        `${flow} holds back questions, too, and this printer’s status is asked for`,
        'when paper runs out or the lid opens within a picture the lamp says only that the printer is off line; it is waited for all the same',
        'set commands.status to automatic in the profile where the printer knows that: it then says so unasked',
      ),
    );
  return [...findings, ...consoleFindings(checked)];
};

export const findWebcam = (checked: Checked): Finding[] => {
  const { config, board } = checked;
  const { device, format, widthPx, heightPx, framesPerSecond } = config.webcam;
  const findings = deviceFindings(
    checked,
    'webcam.device',
    device,
    'no picture can be taken',
    'is it plugged in? ls /dev/video* shows what is there',
  );
  if (board.packages && !board.packages.includes('koffi'))
    findings.push(
      finding(
        'fault',
        'webcam.device',
        'the package koffi isn’t installed, or doesn’t load',
        'the webcam is reached by it',
        'npm install koffi',
      ),
    );
  if (!board.webcam || findings.length > 0) return findings;
  const { modes, card } = board.webcam;
  const fitting = modes.filter(mode => format === 'auto' || mode.format === format);
  if (fitting.length === 0) {
    const offered = [...new Set(modes.map(mode => mode.format))].join(', ') || 'none that is known here';
    findings.push(
      finding(
        'fault',
        'webcam.format',
        `${card || device} doesn’t give ${format === 'auto' ? 'YUYV, GREY or MJPEG' : format}`,
        'no picture can be taken',
        `it offers ${offered}`,
      ),
    );
    return findings;
  }
  const sized = fitting.filter(mode => mode.widthPx === widthPx && mode.heightPx === heightPx);
  if (sized.length === 0) {
    const sizes = [...new Set(fitting.map(mode => `${mode.widthPx} × ${mode.heightPx}`))].slice(0, 8).join(', ');
    findings.push(
      finding(
        'warning',
        'webcam.widthPx',
        `${widthPx} × ${heightPx} isn’t among its sizes`,
        'the nearest that it has is taken',
        `it has ${sizes}`,
      ),
    );
    return findings;
  }
  const rates = sized.map(mode => mode.framesPerSecond).filter(rate => rate !== null);
  const fastest = Math.max(...rates);
  if (rates.length > 0 && fastest < framesPerSecond * 0.8)
    findings.push(
      finding(
        'warning',
        'webcam.framesPerSecond',
        `at that size it gives ${fastest} frames a second, not ${framesPerSecond}`,
        `the first frame after a press may be ${Math.round(1000 / fastest)} ms late`,
        'ask for a smaller size, or for MJPEG where USB is the limit',
      ),
    );
  return findings;
};

/** What every picture needs of the processor. */
export const findProcessor = ({ board }: Checked): Finding[] =>
  board.simd === false
    ? [
        finding(
          'fault',
          'picture.look',
          'this processor doesn’t run WebAssembly with SIMD',
          'no picture can be made ready for the printer',
          'take a board with a 64-bit or an ARMv7 processor with NEON; ARMv6 has none',
        ),
      ]
    : [];

/** Packages without which everything works, but not as well. */
export const findPackages = ({ config, board }: Checked): Finding[] => {
  if (!board.packages || board.packages.includes('epoll') || !board.packages.includes('koffi')) return [];
  if (linesInUse(config).length === 0) return [];
  return [
    finding(
      'note',
      'gpio.access',
      'the package epoll isn’t installed, or was built for another version of Node',
      'edges and frames are asked for every 5 ms instead of being waited for: they keep their own stamps, but it costs power',
      'npm rebuild epoll (it needs a compiler)',
    ),
  ];
};

/** Sensor of the battery and hardware watchdog, where they are configured. */
export const findExtras = (checked: Checked): Finding[] => {
  const { supply, watchdog } = checked.config;
  const sensor = supply.sensor === '' ? [] : sensorFindings(checked, supply.sensor);
  const device =
    watchdog.device === ''
      ? []
      : deviceFindings(
          checked,
          'watchdog.device',
          watchdog.device,
          'a stalled board would not restart by itself',
          'is its driver loaded? ls /dev/watchdog*',
        );
  return [...sensor, ...device];
};

const sensorFindings = ({ board }: Checked, path: string): Finding[] =>
  board.nodes[path]?.there === false
    ? [
        finding(
          'warning',
          'supply.sensor',
          `${path} isn’t there`,
          'a low battery goes unnoticed',
          'see /sys/class/power_supply and /sys/class/hwmon, or leave it empty',
        ),
      ]
    : [];
