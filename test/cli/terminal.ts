import { type ChildProcess, execFileSync, spawn } from 'node:child_process';
import { existsSync, mkdtempSync, rmSync } from 'node:fs';
import { dirname, join, resolve } from 'node:path';
import { fileURLToPath } from 'node:url';
import { buildModules } from '../../src/bundle.mjs';

const repository = resolve(dirname(fileURLToPath(import.meta.url)), '../..');

const hasScript = (): boolean => {
  try {
    return execFileSync('script', ['--version'], { encoding: 'utf8' }).includes('util-linux');
  } catch {
    return false;
  }
};

/** Why there are no terminals here; '' where there are. */
export const noTerminal = hasScript() ? '' : ' (pending where script of util-linux is not installed)';

/** The program, bundled where it finds its packages. */
export const bundleProgram = async (): Promise<{ file: string; remove(): void }> => {
  const modules = join(repository, 'node_modules');
  const folder = mkdtempSync(join(existsSync(modules) ? modules : repository, '.slipshutter-'));
  await buildModules({ tools: join(repository, 'src/cli/main.ts') }, folder);
  return { file: join(folder, 'tools.mjs'), remove: () => rmSync(folder, { recursive: true, force: true }) };
};

export interface Session {
  /** All that the terminal showed so far, line ends as they are in a file. */
  shown(): string;
  /** Waits until it shows something that wasn't there at the last call. */
  until(words: string | RegExp): Promise<void>;
  /** What a person types, without the line end. */
  type(line: string): void;
  /** A control key: 'c' for ^C, 'd' for ^D. */
  control(key: 'c' | 'd'): void;
  /** The exit code. */
  ended: Promise<number | null>;
}

/** A command of the program in a terminal of its own, with its keys and signals. */
export const startInTerminal = (file: string, args: readonly string[], cwd: string): Session => {
  // exec: `script` runs it in whatever shell is set, and a shell that stays in between answers ^C with an exit code of its own.
  const quoted = ['exec', process.execPath, file, ...args].map(word => `'${word.replaceAll("'", `'\\''`)}'`).join(' ');
  const child: ChildProcess = spawn('script', ['--quiet', '--return', '--flush', '--command', quoted, '/dev/null'], {
    cwd,
    env: { ...process.env, TERM: 'xterm', NO_COLOR: '1' },
    stdio: ['pipe', 'pipe', 'inherit'],
  });
  let text = '';
  let from = 0;
  let wake = () => {};
  child.stdout?.setEncoding('utf8').on('data', (piece: string) => {
    text += piece.replaceAll('\r\n', '\n');
    wake();
  });
  const ended = new Promise<number | null>(done => {
    child.on('close', code => {
      wake();
      done(code);
    });
  });
  return {
    shown: () => text,
    async until(words) {
      for (;;) {
        const rest = text.slice(from);
        const at = typeof words === 'string' ? rest.indexOf(words) : rest.search(words);
        if (at >= 0) {
          from += at + (typeof words === 'string' ? words.length : (rest.match(words)?.[0].length ?? 0));
          return;
        }
        if (child.exitCode !== null) throw new Error(`it ended before ${words}; it showed:\n${text}`);
        await new Promise<void>(done => {
          wake = done;
        });
      }
    },
    type: line => void child.stdin?.write(`${line}\n`),
    control: key => void child.stdin?.write(key === 'c' ? '\x03' : '\x04'),
    ended,
  };
};
