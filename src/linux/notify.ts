import { codeOf, findLibc } from './native.ts';

export interface ServiceNotice {
  ready(): void;
  status(text: string): void;
  stopping(): void;
  close(): void;
}

const afUnix = 1;

/** Address of a unix socket as in unix(7): `@` at the start stands for the zero of an abstract name. */
export const unixAddress = (name: string): Uint8Array => {
  const abstract = name.startsWith('@');
  const path = new TextEncoder().encode(abstract ? `\0${name.slice(1)}` : `${name}\0`);
  const address = new Uint8Array(2 + path.length);
  new Uint16Array(address.buffer, 0, 1)[0] = afUnix;
  address.set(path, 2);
  return address;
};

/** Half of the time within which the service manager wants to hear from us, milliseconds; null: it doesn't. */
export const keepAliveMs = (env: NodeJS.ProcessEnv, pid: number): number | null => {
  const us = Number(env.WATCHDOG_USEC);
  if (!Number.isFinite(us) || us <= 0) return null;
  if (env.WATCHDOG_PID && Number(env.WATCHDOG_PID) !== pid) return null;
  return Math.max(1, Math.floor(us / 2000));
};

const silent: ServiceNotice = { ready() {}, status() {}, stopping() {}, close() {} };

/**
 * Tells the service manager how we are (sd_notify(3)); nothing where there is none. `note` hears why it can't be told.
 * Its watchdog is fed by the event loop, so that a loop that stands still is noticed.
 */
export const createServiceNotice = (
  env: NodeJS.ProcessEnv = process.env,
  pid = process.pid,
  note: (why: string) => void = () => {},
): ServiceNotice => {
  const name = env.NOTIFY_SOCKET;
  if (!name) return silent;
  const libc = findLibc();
  if (!libc) {
    note("the service manager can't be told: the package 'koffi' isn't here");
    return silent;
  }
  const address = unixAddress(name);
  const tell = (message: string) => {
    try {
      libc.sendTo(address, new TextEncoder().encode(message));
    } catch (error) {
      note(`the service manager isn't reached: ${codeOf(error)}`);
    }
  };
  const everyMs = keepAliveMs(env, pid);
  const timer = everyMs === null ? null : setInterval(() => tell('WATCHDOG=1'), everyMs);
  timer?.unref();
  return {
    ready: () => tell('READY=1'),
    status: text => tell(`STATUS=${text.replace(/\n/g, ' ')}`),
    stopping: () => tell('STOPPING=1'),
    close() {
      if (timer) clearInterval(timer);
    },
  };
};
