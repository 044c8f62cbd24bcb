import { codeOf, type Libc } from '../native.ts';
import { ioctl } from './layout.ts';
import * as uapi from './uapi.ts';

export interface ControlWishes {
  powerLineHz: 'auto' | '50' | '60' | 'off';
  /** In the webcam's own units (exposure: 100 µs); null: automatic. */
  exposure: number | null;
  gain: number | null;
  focus: number | null;
}

/** Control numbers of `linux/v4l2-controls.h`. */
export const control = {
  autoGain: 0x0098_0912,
  gain: 0x0098_0913,
  powerLine: 0x0098_0918,
  exposureMode: 0x009a_0901,
  exposure: 0x009a_0902,
  focus: 0x009a_090a,
  autoFocus: 0x009a_090c,
} as const;
const exposureMode = { auto: 0, manual: 1, aperturePriority: 3 };
const powerLine = { off: 0, '50': 1, '60': 2, auto: 3 };

/** Sets what is wished for; what the webcam doesn't have or take is told to `note`, and left. */
export const applyControls = (libc: Libc, fd: number, wishes: ControlWishes, note: (what: string) => void): void => {
  const range = (id: number) => {
    const query = uapi.queryControlOf(id);
    try {
      libc.ioctl(fd, ioctl.queryControl, query);
    } catch {
      return null;
    }
    const found = uapi.readQueryControl(query);
    return found.disabled ? null : found;
  };
  const set = (id: number, name: string, value: number, wished: boolean): boolean => {
    const found = range(id);
    if (!found) {
      if (wished) note(`this webcam has no control of its ${name}`);
      return false;
    }
    const taken = Math.min(found.most, Math.max(found.least, Math.round(value)));
    if (taken !== value && wished)
      note(`the webcam's ${name} goes from ${found.least} to ${found.most}: set to ${taken}`);
    try {
      libc.ioctl(fd, ioctl.setControl, uapi.controlOf(id, taken));
      return true;
    } catch (error) {
      if (wished) note(`the webcam doesn't take its ${name}: ${codeOf(error)}`);
      return false;
    }
  };

  if (wishes.exposure === null)
    set(control.exposureMode, 'automatic exposure', exposureMode.aperturePriority, false) ||
      set(control.exposureMode, 'automatic exposure', exposureMode.auto, false);
  else {
    set(control.exposureMode, 'manual exposure', exposureMode.manual, false);
    set(control.exposure, 'exposure', wishes.exposure, true);
  }
  set(control.autoGain, 'automatic gain', wishes.gain === null ? 1 : 0, false);
  if (wishes.gain !== null) set(control.gain, 'gain', wishes.gain, true);
  set(control.autoFocus, 'automatic focus', wishes.focus === null ? 1 : 0, false);
  if (wishes.focus !== null) set(control.focus, 'focus', wishes.focus, true);
  set(control.powerLine, 'anti-flicker setting', powerLine[wishes.powerLineHz], wishes.powerLineHz !== 'auto');
};

/** The exposure in force in microseconds, or null where the webcam doesn't tell. */
export const exposureUs = (libc: Libc, fd: number): number | null => {
  const value = uapi.controlOf(control.exposure);
  try {
    libc.ioctl(fd, ioctl.getControl, value);
  } catch {
    return null;
  }
  const told = uapi.readControl(value);
  return told > 0 ? told * 100 : null;
};
