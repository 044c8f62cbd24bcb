import { closeSync, constants, openSync, readdirSync, readSync } from 'node:fs';
import { Fault } from '../../parts/fault.ts';
import { codeOf, deviceFault, needLibc } from '../native.ts';
import { watchFd } from '../watch.ts';
import type { Gpio, InputLine, InputOptions, LineEdge, LineId, OutputLine, OutputOptions } from './lines.ts';
import * as uapi from './uapi.ts';

const openFlags = constants.O_RDWR | constants.O_NONBLOCK;
/** Where edges can't be waited for, they are asked for this often; their stamps are the kernel's all the same. */
const askEveryMs = 5;

/** The chip by its device's name or path, or by its label. */
export const openChip = (chip: string): { fd: number; path: string } => {
  const libc = needLibc('GPIO by the chip’s device');
  const direct = chip.startsWith('/') ? chip : `/dev/${chip}`;
  try {
    return { fd: openSync(direct, openFlags), path: direct };
  } catch (error) {
    if (codeOf(error) !== 'ENOENT') throw deviceFault(error, 'GPIO', direct, 'gpio');
  }
  const seen: string[] = [];
  for (const name of readdirSync('/dev').filter(entry => /^gpiochip\d+$/.test(entry))) {
    const path = `/dev/${name}`;
    let fd: number;
    try {
      fd = openSync(path, openFlags);
    } catch {
      seen.push(`${name} (not permitted)`);
      continue;
    }
    const info = uapi.emptyChipInfo();
    libc.ioctl(fd, uapi.chipInfoIoctl, info);
    const { label } = uapi.readChipInfo(info);
    if (label === chip) return { fd, path };
    seen.push(`${name} ('${label}')`);
    closeSync(fd);
  }
  throw new Fault(
    'part-missing',
    `GPIO: there is no chip '${chip}'`,
    seen.length > 0 ? `set gpio.chip to one of: ${seen.join(', ')}` : 'this board shows no GPIO chip at all in /dev',
  );
};

/** Lines by the character device, interface version 2. */
export const createChipGpio = (chip: string): Gpio => {
  const libc = needLibc('GPIO by the chip’s device');
  const { fd, path } = openChip(chip);
  const chipInfo = uapi.emptyChipInfo();
  libc.ioctl(fd, uapi.chipInfoIoctl, chipInfo);
  const { lines } = uapi.readChipInfo(chipInfo);

  const lineInfo = (offset: number) => {
    const info = uapi.lineInfoOf(offset);
    libc.ioctl(fd, uapi.lineInfoIoctl, info);
    return uapi.readLineInfo(info);
  };
  const offsetOf = (line: LineId, use: string): number => {
    if (typeof line === 'number') {
      if (line < lines) return line;
      throw new Fault('part-missing', `GPIO: ${path} has no line ${line} for the ${use}`, `it has 0 to ${lines - 1}`);
    }
    for (let offset = 0; offset < lines; offset++) if (lineInfo(offset).name === line) return offset;
    throw new Fault(
      'part-missing',
      `GPIO: ${path} has no line named '${line}' for the ${use}`,
      'give its offset on the chip instead, or see which names the chip has',
    );
  };
  const grant = (line: LineId, use: string, encode: (offset: number) => Uint8Array): number => {
    const offset = offsetOf(line, use);
    const request = encode(offset);
    try {
      libc.ioctl(fd, uapi.requestIoctl, request);
    } catch (error) {
      if (codeOf(error) !== 'EBUSY') throw deviceFault(error, `GPIO line ${line} (${use})`, path, 'gpio');
      const { consumer } = lineInfo(offset);
      throw new Fault(
        'part-busy',
        `GPIO: line ${line} of ${path}, for the ${use}, is in use by '${consumer || 'the kernel'}'`,
        'end that user, or take its overlay or driver out of the boot configuration, or choose another line',
        { cause: error },
      );
    }
    return uapi.grantedFd(request);
  };
  const readLine = (lineFd: number): boolean => {
    const values = uapi.valuesOf(false);
    libc.ioctl(lineFd, uapi.getValuesIoctl, values);
    return uapi.readValue(values);
  };

  const output = (line: LineId, options: OutputOptions): OutputLine => {
    const lineFd = grant(line, options.use, offset => uapi.outputRequest(offset, options));
    let open = true;
    const set = (active: boolean) => {
      if (open) libc.ioctl(lineFd, uapi.setValuesIoctl, uapi.valuesOf(active));
    };
    return {
      set,
      letGo: { by: 'chip', fd: lineFd },
      close() {
        if (!open) return;
        set(false);
        open = false;
        closeSync(lineFd);
      },
    };
  };

  const input = (line: LineId, options: InputOptions): InputLine => {
    const lineFd = grant(line, options.use, offset => uapi.inputRequest(offset, options));
    const events = Buffer.alloc(uapi.eventBytes * 16);
    const listeners = new Set<(edge: LineEdge) => void>();
    let last: uapi.KernelEdge | null = null;
    let open = true;

    const tell = (edge: LineEdge) => {
      for (const heard of listeners) heard(edge);
    };
    const drain = (): void => {
      while (open) {
        let length: number;
        try {
          length = readSync(lineFd, events, 0, events.length, null);
        } catch (error) {
          if (codeOf(error) === 'EAGAIN') return;
          throw error;
        }
        for (let at = 0; at + uapi.eventBytes <= length && open; at += uapi.eventBytes) {
          const edge = uapi.readEdge(events, at);
          // After dropped edges two of the same kind may follow each other: the one between is put in at the later's time.
          const gap = last !== null && edge.sequence !== ((last.sequence + 1) | 0) >>> 0;
          if (gap && last?.rising === edge.rising) tell({ active: !edge.rising, atMonotonicUs: edge.atMonotonicUs });
          last = edge;
          tell({ active: edge.rising, atMonotonicUs: edge.atMonotonicUs });
        }
        if (length < events.length) return;
      }
    };
    let stopWatch = () => {};
    return {
      read: () => readLine(lineFd),
      listen(heard) {
        if (listeners.size === 0) stopWatch = watchFd(lineFd, 'in', drain, { everyMs: askEveryMs });
        listeners.add(heard);
        return () => {
          if (listeners.delete(heard) && listeners.size === 0) stopWatch();
        };
      },
      close() {
        if (!open) return;
        open = false;
        listeners.clear();
        stopWatch();
        closeSync(lineFd);
      },
    };
  };

  return { access: 'chip', output, input, close: () => closeSync(fd) };
};
