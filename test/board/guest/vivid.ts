import { closeSync, existsSync, openSync, writeFileSync } from 'node:fs';
import { needLibc } from '../../../src/linux/native.ts';
import { ioctl } from '../../../src/linux/v4l2/layout.ts';
import { controlOf, queryControlOf, readQueryControl } from '../../../src/linux/v4l2/uapi.ts';

export const videoDevice = '/dev/video0';
const nextControl = 0x8000_0000;
const driver = '/sys/bus/platform/drivers/vivid';

const withDevice = <T>(act: (fd: number) => T): T => {
  const fd = openSync(videoDevice, 'r+');
  try {
    return act(fd);
  } finally {
    closeSync(fd);
  }
};

/** Sets one of the virtual device's own controls, found by its name: among them those that inject errors. */
export const setVivid = (name: string, value: number): void =>
  withDevice(fd => {
    const libc = needLibc('vivid');
    const names: string[] = [];
    for (let id = 0; ; ) {
      const query = queryControlOf((id | nextControl) >>> 0);
      try {
        libc.ioctl(fd, ioctl.queryControl, query);
      } catch {
        throw new Error(`vivid has no control '${name}': ${names.join(', ')}`);
      }
      id = new DataView(query.buffer).getUint32(0, true);
      const found = readQueryControl(query).name;
      names.push(found);
      if (found !== name) continue;
      libc.ioctl(fd, ioctl.setControl, controlOf(id, value));
      return;
    }
  });

/** The device leaves the bus and comes back, as by its plug. */
export const unplugVivid = (): void => {
  if (existsSync(`${driver}/vivid.0`)) writeFileSync(`${driver}/unbind`, 'vivid.0');
};
export const replugVivid = (): void => {
  if (!existsSync(`${driver}/vivid.0`)) writeFileSync(`${driver}/bind`, 'vivid.0');
};
