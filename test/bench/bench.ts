import { parseArgs } from 'node:util';
import { benchAlbum } from './album.ts';
import { benchSheet } from './contact-sheet.ts';
import { benchGather, benchPage, runGatherJob } from './gather.ts';
import { benchListen } from './listen.ts';
import { benchPicture } from './picture.ts';
import { runSpeedJob } from './picture-speed.ts';
import { benchPrint } from './print.ts';
import { benchRecord } from './record.ts';
import { benchRehearse } from './rehearse.ts';

export interface BenchOptions {
  /** A quick run that shows that everything works; its figures mean little. */
  smoke: boolean;
}

/** Every benchmark; `npm run bench -- NAME…` runs only those. */
const table: Readonly<Record<string, (say: (line: string) => void, options: BenchOptions) => Promise<void> | void>> = {
  picture: benchPicture,
  print: (say, { smoke }) => benchPrint(say, smoke),
  rehearse: benchRehearse,
  sheet: benchSheet,
  record: (say, { smoke }) => benchRecord(say, smoke ? { pictures: 5, million: 20_000 } : {}),
  listen: (say, { smoke }) => benchListen(say, smoke ? { lines: 50_000 } : {}),
  gather: benchGather,
  page: benchPage,
  album: (say, { smoke }) => benchAlbum(say, smoke ? { pictures: 200, rounds: 3 } : {}),
};

const { values, positionals } = parseArgs({
  allowPositionals: true,
  options: {
    smoke: { type: 'boolean' },
    // How benchmarks run their jobs in processes of their own.
    'speed-job': { type: 'string' },
    'gather-job': { type: 'string' },
    rounds: { type: 'string' },
  },
});
const unknown = positionals.filter(name => !Object.hasOwn(table, name));
if (values['speed-job'] !== undefined) runSpeedJob(values['speed-job'], Number(values.rounds));
else if (values['gather-job'] !== undefined) await runGatherJob(values['gather-job']);
else if (unknown.length > 0) {
  process.stderr.write(`bench: there is no ${unknown.join(', ')}; there are ${Object.keys(table).join(', ')}\n`);
  process.exitCode = 2;
} else
  for (const name of positionals.length > 0 ? positionals : Object.keys(table))
    await table[name](line => void process.stdout.write(`${line}\n`), { smoke: values.smoke === true });
