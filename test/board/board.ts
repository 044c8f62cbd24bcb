import { type ChildProcess, execFileSync, spawn } from 'node:child_process';
import { chmodSync, copyFileSync, existsSync, mkdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { createConnection, type Socket } from 'node:net';
import { setTimeout as sleep } from 'node:timers/promises';
import { forgetfulDisk } from './disk.ts';

const project = new URL('../..', import.meta.url).pathname;
export const boardFolder = `${project}.board`;
const kernel = `${boardFolder}/kernel`;

export interface Job {
  code: number;
  output: string;
}

export interface Board {
  /** Folder shared with the guest's `/out`. */
  out: string;
  /** Everything that came out of the serial printer port so far. */
  printed(): Uint8Array;
  /** Each piece of it as it comes. */
  onPrinted(heard: (bytes: Uint8Array) => void): void;
  /** Bytes into the serial printer port. */
  answer(bytes: Uint8Array): void;
  /** Runs a script in the guest's shell. */
  job(script: string, timeoutMs?: number): Promise<Job>;
  /** The same, failing when the script does; gives its output. */
  sh(script: string, timeoutMs?: number): Promise<string>;
  /** Starts a script and leaves it running. */
  start(script: string): Promise<Job>;
  console(): string;
  /** How often the board has come up: more than once where its watchdog reset it. Needs the option `reboots`. */
  ups(): number;
  /** Nobody reads the console's wire any more, or somebody does again. Needs the option `wire`. */
  jam(on: boolean): void;
  /** Power cut: the emulator ends on the spot. */
  cut(): Promise<void>;
}

/** One emulated board at a time: the memory file system of a small machine holds no more. */
const makeInitrd = (): string => {
  const archive = `${boardFolder}/initrd`;
  const work = `${boardFolder}/initrd.d`;
  rmSync(work, { recursive: true, force: true });
  for (const folder of ['bin', 'dev', 'proc', 'sys', 'root']) mkdirSync(`${work}/${folder}`, { recursive: true });
  copyFileSync('/bin/busybox', `${work}/bin/busybox`);
  execFileSync('cp', ['-a', `${kernel}/modules`, `${work}/modules`]);
  copyFileSync(`${project}test/board/guest/init`, `${work}/init`);
  chmodSync(`${work}/init`, 0o755);
  execFileSync('sh', ['-c', `cd "$0" && find . | cpio -o -H newc 2>/dev/null | gzip -1 >"$1"`, work, archive]);
  rmSync(work, { recursive: true });
  return archive;
};

const connect = async (path: string): Promise<Socket> => {
  for (let tries = 0; ; tries++) {
    try {
      return await new Promise<Socket>((resolve, reject) => {
        const socket = createConnection(path, () => resolve(socket));
        socket.once('error', reject);
      });
    } catch (error) {
      if (tries > 100) throw error;
      await sleep(50);
    }
  }
};

export interface BootOptions {
  name: string;
  /** Keep the state disk of an earlier boot of this name. */
  keepState?: boolean;
  /** What the kernel's command line ends with: `quiet` unless something else is given. */
  append?: string;
  /** The state disk forgets at a cut what the guest hasn't flushed: see `losePower`. */
  forgetful?: boolean;
  /** From the disk that `make-system` made, with a real service manager; what is written there goes with the board. */
  system?: boolean;
  /** The console is a wire that `jam` can stop: nobody reads it then. */
  wire?: boolean;
  /** A reset starts the board again; otherwise it ends it. */
  reboots?: boolean;
}

interface Machine {
  out: string;
  initrd: string;
  append: string;
  console: string;
  disks: readonly string[];
  reboots: boolean;
}

const qemu = ({ out, initrd, append, console, disks, reboots }: Machine): ChildProcess => {
  const acceleration = process.env.BOARD_ACCEL ?? 'tcg,thread=multi';
  // The plainest one that the emulator offers has no SIMD as WebAssembly knows it; all boards that this is for have.
  const processor = process.env.BOARD_CPU ?? 'Nehalem';
  const args = [
    ...['-accel', acceleration, '-cpu', processor, '-smp', '2', '-m', '1024', '-display', 'none', '-monitor', 'none'],
    ...(reboots ? [] : ['-no-reboot']),
    // Rests until the guest opens it.
    ...['-device', 'i6300esb', '-action', 'watchdog=reset'],
    ...['-nic', 'none', '-kernel', `${kernel}/vmlinuz`, '-initrd', initrd],
    ...['-append', `console=ttyS0,1000000 panic=-1 ${append}`],
    ...['-serial', console],
    ...['-serial', `unix:${out}.printer,server=on,wait=off`, '-serial', `unix:${out}.hand,server=on,wait=off`],
    ...disks,
    ...['-fsdev', `local,id=root,path=${boardFolder}/root,security_model=none,readonly=on,multidevs=remap`],
    ...['-device', 'virtio-9p-pci,fsdev=root,mount_tag=root'],
    ...['-fsdev', `local,id=out,path=${out},security_model=none,multidevs=remap`],
    ...['-device', 'virtio-9p-pci,fsdev=out,mount_tag=out'],
  ];
  return spawn('qemu-system-x86_64', args, { stdio: ['ignore', 'inherit', 'inherit'] });
};

/**
 * What an emulator with a thread for each processor breaks now and then, before anything of ours runs: the kernel patches
 * its own code while the other processor runs it, and trips over the mark that it has just taken away.
 */
const brokenByEmulator = 'Oops: int3';
const mostBoots = 4;

export const boot = async (options: BootOptions): Promise<Board> => {
  for (let boots = 1; ; boots++) {
    try {
      return await bootOnce(options);
    } catch (error) {
      const console = `${boardFolder}/out/${options.name}.console`;
      if (boots === mostBoots || !readFileSync(console, 'latin1').includes(brokenByEmulator)) throw error;
      process.stdout.write(`emulated board: the emulator broke the kernel's start (${brokenByEmulator}); once more\n`);
    }
  }
};

const bootOnce = async (options: BootOptions): Promise<Board> => {
  const { name, keepState = false, forgetful = false, system = false, wire = false, reboots = false } = options;
  const out = `${boardFolder}/out/${name}`;
  rmSync(out, { recursive: true, force: true });
  mkdirSync(out, { recursive: true });
  rmSync(`${out}.console`, { force: true });
  if (!keepState || !existsSync(`${out}.state`)) {
    rmSync(`${out}.state`, { force: true });
    execFileSync('truncate', ['-s', '64M', `${out}.state`]);
    execFileSync('/sbin/mkfs.ext4', ['-q', '-F', `${out}.state`]);
  }
  const sureDisk = ['-drive', `file=${out}.state,format=raw,if=virtio,cache=writethrough`];
  const stateDisk = forgetful ? forgetfulDisk(`${out}.state`) : sureDisk;
  const systemDisk = ['-drive', `file=${boardFolder}/system.img,format=raw,if=virtio,cache=unsafe,snapshot=on`];
  const append = process.env.BOARD_APPEND ?? options.append ?? 'quiet';
  const emulator = qemu({
    out,
    initrd: makeInitrd(),
    append: system ? `${append} board=system` : append,
    console: wire ? `unix:${out}.wire,server=on,wait=off` : `file:${out}.console`,
    disks: system ? [...stateDisk, ...systemDisk] : stateDisk,
    reboots,
  });
  const ended = new Promise<void>(resolve => emulator.once('exit', () => resolve()));

  const heardConsole = wire ? await connect(`${out}.wire`) : null;
  writeFileSync(`${out}.console`, '', { flag: 'a' });
  heardConsole?.on('data', bytes => writeFileSync(`${out}.console`, bytes, { flag: 'a' }));
  heardConsole?.on('error', () => {});

  let printed = Buffer.alloc(0);
  const printer = await connect(`${out}.printer`);
  let heardPrinted: (bytes: Uint8Array) => void = () => {};
  printer.on('data', bytes => {
    printed = Buffer.concat([printed, bytes]);
    heardPrinted(bytes);
  });
  printer.on('error', () => {});

  const waiting = new Map<number, { begun: boolean; done(job: Job): void }>();
  const hand = await connect(`${out}.hand`);
  hand.on('error', () => {});
  let begun = false;
  let ups = 0;
  let heard = '';
  const up = new Promise<void>((resolve, reject) => {
    hand.on('data', bytes => {
      heard += bytes;
      for (let end = heard.indexOf('\n'); end >= 0; end = heard.indexOf('\n')) {
        const [word, id, code] = heard.slice(0, end).trim().split(' ');
        heard = heard.slice(end + 1);
        if (word === 'up') {
          begun = true;
          ups++;
          resolve();
        }
        const job = waiting.get(Number(id));
        if (job && (word === 'begun' || word === 'done')) job.begun = true;
        if (job && word === 'done') {
          waiting.delete(Number(id));
          job.done({ code: Number(code), output: readFileSync(`${out}/job-${id}`, 'utf8') });
        }
      }
    });
    ended.then(() => {
      if (!begun) reject(new Error(`the board didn't come up; see ${out}.console`));
      for (const { done } of waiting.values()) done({ code: -1, output: 'the board ended' });
    });
  });
  const tooLong = setTimeout(() => emulator.kill('SIGKILL'), 120_000);
  await up;
  clearTimeout(tooLong);

  const isUp = () => emulator.exitCode === null && emulator.signalCode === null;
  let jobs = 0;
  const start = async (script: string): Promise<Job> => {
    const id = ++jobs;
    const state = { begun: false, done: (_: Job) => {} };
    const done = new Promise<Job>(resolve => {
      state.done = resolve;
    });
    waiting.set(id, state);
    writeFileSync(`${out}/script-${id}`, script);
    // An emulated port on a busy machine drops bytes now and then.
    while (!state.begun && isUp()) {
      hand.write(`\n${id}\n`);
      for (let passed = 0; !state.begun && passed < 3000; passed += 20) await sleep(20);
    }
    return isUp() || state.begun ? done : { code: -1, output: 'the board has ended' };
  };
  const job = async (script: string, timeoutMs = 60_000): Promise<Job> => {
    const timeout = new AbortController();
    const late = sleep(timeoutMs, { code: -2, output: `no end within ${timeoutMs} ms: ${script}` }, timeout);
    const result = await Promise.race([start(script), late]);
    timeout.abort();
    return result;
  };
  return {
    out,
    printed: () => printed,
    onPrinted(heard) {
      heardPrinted = heard;
    },
    answer: bytes => void printer.write(bytes),
    job,
    async sh(script, timeoutMs) {
      const { code, output } = await job(script, timeoutMs);
      if (code !== 0) throw new Error(`'${script}' ended with ${code}: ${output}`);
      return output;
    },
    start,
    ups: () => ups,
    console: () => readFileSync(`${out}.console`, 'utf8'),
    jam: on => void (on ? heardConsole?.pause() : heardConsole?.resume()),
    async cut() {
      emulator.kill('SIGKILL');
      await ended;
      printer.destroy();
      hand.destroy();
      heardConsole?.destroy();
      writeFileSync(`${out}.printed`, printed);
    },
  };
};
