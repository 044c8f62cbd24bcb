import type { LiveHands } from '../../sim/live/live.ts';
import { loadConfig } from '../config/load.ts';
import { loadProfile } from '../config/load-profile.ts';
import { defaultConfig } from '../config/schema.ts';
import { Fault } from '../parts/fault.ts';
import type { Given, Io } from './command.ts';
import { textOption, wholeOption } from './given.ts';
import { loadPhotos } from './rehearse.ts';

const handsOf = (io: Io): LiveHands => {
  const { stdin } = io;
  const tty = io.outIsTerminal && stdin.isTTY ? (stdin as NodeJS.ReadStream) : null;
  return {
    out: io.out,
    signal: io.signal,
    screen: tty && {
      get columns() {
        return process.stdout.columns ?? 80;
      },
      get rows() {
        return process.stdout.rows ?? 24;
      },
      write: io.out,
    },
    keys(pressed) {
      if (!tty) return () => {};
      const heard = (bytes: Buffer | string) => pressed(String(bytes));
      tty.setRawMode(true);
      tty.on('data', heard);
      tty.resume();
      return () => {
        tty.off('data', heard);
        tty.setRawMode(false);
        tty.pause();
      };
    },
  };
};

/** `rehearse --live`: a camera to play with in the terminal and in this machine's browser. */
export const runLive = async (given: Given, io: Io): Promise<number> => {
  const senseless = ['out', 'party', 'presses'].find(name => given.values[name] !== undefined);
  if (senseless !== undefined || given.positionals.length > 0)
    throw new Fault(
      'usage',
      `--live plays no script and leaves no files: ${senseless ? `--${senseless}` : `'${given.positionals[0]}'`} makes no sense with it`,
      'leave one of the two out',
    );
  const port = wholeOption(given, 'port', 0, 65_535) ?? null;
  const seed = wholeOption(given, 'seed', 0, 2 ** 32 - 1) ?? 1;
  const configFile = textOption(given, 'config') ?? null;
  const config = configFile ? loadConfig(configFile).config : defaultConfig();
  const profile = loadProfile(config.printer.profile, configFile);
  const photos = await loadPhotos(textOption(given, 'photos'));
  const [{ live }, { createImprint }, { encodeCode128 }] = await Promise.all([
    import('../../sim/live/live.ts'),
    import('../print/imprint.ts'),
    import('../print/code128.ts'),
  ]);
  const imprint = config.printer.imprint
    ? createImprint({ widthDots: profile.widthDots, mark: config.camera.mark, encode: encodeCode128 })
    : null;
  const title = `${config.camera.name}, a camera on the desk`;
  await live({ title, port, config, profile, imprint, seed, scene: 'party', photos }, handsOf(io));
  return 0;
};
