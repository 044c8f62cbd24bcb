import type { VirtualClock } from '../../sim/clock.ts';
import type { Port } from '../../src/linux/printer/serial.ts';

/** A serial port on the virtual clock, as `serialport` gives it: a kernel buffer that leaves at the baud rate. */
export const createPortModel = (clock: VirtualClock, baud: number) => {
  const byteUs = 10e6 / baud;
  const received: number[] = [];
  const model = { plugged: true, cts: true, opened: [] as Record<string, unknown>[] };
  let current: { data(bytes: Uint8Array): void; gone(error: Error): void } | null = null;

  const createPort = (options: Record<string, unknown>): Port => {
    let open = false;
    let kernel: number[] = [];
    let heardData: (bytes: Uint8Array) => void = () => {};
    let heardClose: (error: Error | null) => void = () => {};
    let drains: ((error: Error | null) => void)[] = [];
    let sending = false;
    const soon = (act: () => void) => void clock.after(100, act);
    const send = () => {
      if (sending || !open) return;
      if (kernel.length === 0) {
        for (const done of drains) done(null);
        drains = [];
        return;
      }
      sending = true;
      clock.after(byteUs, () => {
        sending = false;
        if (!open) return;
        const byte = options.rtscts && !model.cts ? undefined : kernel.shift();
        if (byte !== undefined) received.push(byte);
        send();
      });
    };
    const shut = (error: Error | null) => {
      if (!open) return;
      open = false;
      kernel = [];
      soon(() => heardClose(error));
    };
    return {
      open(done) {
        soon(() => {
          if (!model.plugged) return done(new Error(`Error: No such file or directory, cannot open ${options.path}`));
          open = true;
          model.opened.push(options);
          current = { data: bytes => heardData(bytes), gone: shut };
          done(null);
        });
      },
      write(bytes, done) {
        kernel.push(...bytes);
        send();
        soon(() => done(open ? null : new Error('EIO')));
      },
      drain(done) {
        soon(() => {
          drains.push(done);
          send();
        });
      },
      flush(done) {
        kernel = [];
        soon(() => done(null));
      },
      get: done => soon(() => done(null, { cts: model.cts })),
      close(done) {
        shut(null);
        soon(() => done(null));
      },
      on(event: string, heard: never) {
        if (event === 'data') heardData = heard;
        if (event === 'close') heardClose = heard;
      },
    };
  };
  return {
    createPort,
    model,
    received: () => Uint8Array.from(received),
    answer: (bytes: Uint8Array) => void clock.after(1000, () => current?.data(bytes)),
    unplug() {
      model.plugged = false;
      current?.gone(new Error('bad file descriptor'));
    },
    replug() {
      model.plugged = true;
    },
  };
};
