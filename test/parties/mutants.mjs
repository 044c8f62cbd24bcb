// Plants one fault after the other into the program and requires that the parties catch each: what the judge is worth.
import { spawnSync } from 'node:child_process';
import { readFileSync } from 'node:fs';
import { availableParallelism } from 'node:os';
import { bundleParties } from './bundle.mjs';

/** What stands in the source, once, and what is planted in its place. */
const mutants = [
  {
    name: 'the coil is never let go by the program',
    file: 'src/machine/stroke.ts',
    find: 'shutter.release();',
    plant: '',
  },
  {
    name: 'a file is called durable that was never synced',
    file: 'sim/disk-port.ts',
    find: "if (lying !== 'files') model.sync(path);",
    plant: '',
  },
  {
    name: 'a folder is called durable that was never synced',
    file: 'sim/disk-port.ts',
    find: "if (lying !== 'folders') model.syncFolder(path);",
    plant: '',
  },
  {
    name: 'the second stroke comes before the picture is safe',
    file: 'src/machine/album-duty.ts',
    find: 'album.keep(shot, frame, { takenAtMs, pressToFrameUs: frame.exposureEndUs - pressedUs }, said =>',
    plant:
      "tell(args, { type: 'keep.done', shot }); album.keep(shot, frame, { takenAtMs, pressToFrameUs: frame.exposureEndUs - pressedUs }, said => false &&",
  },
  {
    name: 'the album forgets what waits to be printed',
    file: 'src/machine/facts-region.ts',
    find: 'pending.filter(({ shot }) => !isUnderWay(context, shot)).map(recovered)',
    plant: '[]',
  },
  {
    name: 'printed is never written down',
    file: 'src/album/album.ts',
    find: 'mark(shot, mark, heard) {',
    plant:
      "mark(shot, mark, heard) { if (mark === 'printed') return void clock.after(1000, () => heard({ kind: 'kept' }));",
  },
  {
    name: 'the tail is left out',
    file: 'src/print/engine.ts',
    find: 'printTail(shot, listener) {',
    plant:
      "printTail(shot, listener) { clock.after(1000, () => listener({ kind: 'done', paperLines: 0 })); return () => {};",
  },
  {
    name: 'frames from before the press count',
    file: 'src/machine/frame-choice.ts',
    find: 'exposureStartUs >= notBeforeUs &&',
    plant: '',
  },
  {
    name: 'blades before the lens don’t matter',
    file: 'src/machine/frame-choice.ts',
    find: 'crossings.every(',
    plant: 'true || crossings.every(',
  },
  {
    name: 'a printer that came back is never heard of',
    file: 'src/print/engine.ts',
    find: 'if (blocks(now)) return stopJobs();',
    plant: 'if (told && blocks(told)) return stopJobs();',
    also: [{ find: 'told = now;', plant: 'told = told && blocks(told) ? told : now;' }],
  },
  {
    name: 'an unanswered last question is taken for yes',
    file: 'src/print/inquiry.ts',
    find: 'then(false)',
    plant: 'then(true)',
  },
  {
    name: 'a contact counts at once, bounce and all',
    file: 'src/machine/kit.ts',
    find: 'settle: config.button.settleMs,',
    plant: 'settle: 0.01,',
  },
  {
    name: 'the coil’s duty is left to its own guard',
    file: 'src/machine/kit.ts',
    find: 'dutyRestUs(pulses, nowUs, config.shutter)',
    plant: '0',
  },
  {
    name: 'a picture that can’t be read at once is passed over at the start',
    file: 'src/album/opening.ts',
    find: '&& !lastTry) throw frame',
    plant: '&& false) throw frame',
    also: [{ find: "if (!lastTry && bytes.fault !== 'too-big') throw bytes;", plant: '' }],
  },
  {
    name: 'lines that a jammed console lost are not counted',
    file: 'src/console/outlet.ts',
    find: '        dropped++;',
    plant: '',
  },
  {
    name: 'what is printed is not kept',
    file: 'src/album/album.ts',
    find: 'yield* places.write(shot, frameName, made.bytes);',
    plant: '',
  },
];

const plantInto = ({ file, find, plant, also = [] }) => ({
  name: 'plant',
  setup({ onLoad }) {
    onLoad({ filter: new RegExp(`${file.replaceAll('/', '[\\\\/]').replaceAll('.', '\\.')}$`) }, ({ path }) => {
      let contents = readFileSync(path, 'utf8');
      for (const one of [{ find, plant }, ...also]) {
        if (contents.split(one.find).length !== 2) throw new Error(`${file}: '${one.find}' must stand there once`);
        contents = contents.replace(one.find, () => one.plant);
      }
      return { contents, loader: 'ts' };
    });
  },
});

const wanted = process.argv[2];
const seeds = process.argv[3] ?? '300';
let missed = 0;
for (const [i, mutant] of mutants.entries()) {
  if (wanted && wanted !== 'all' && wanted !== String(i)) continue;
  const outdir = `node_modules/.cache/parties-mutant-${i}`;
  try {
    await bundleParties(outdir, { logLevel: 'silent', plugins: [plantInto(mutant)] });
  } catch (error) {
    missed++;
    console.log(`${i} STALE   ${mutant.name}: ${error.errors?.[0]?.text ?? error.message}`);
    continue;
  }
  const { status, stdout } = spawnSync(process.execPath, [`${outdir}/run.mjs`, '--seeds', seeds, '--until-caught'], {
    encoding: 'utf8',
    maxBuffer: 64_000_000,
  });
  const [count = '?'] = stdout.match(/^\d+/m) ?? [];
  const found = stdout.split('\n').find(line => line.startsWith('party ')) ?? '';
  if (status === 1 && found)
    console.log(`${i} caught  ${mutant.name}: within ${count} parties; ${found.slice(0, 140)}`);
  else {
    missed++;
    console.log(
      `${i} MISSED  ${mutant.name}: ${count} parties on ${availableParallelism()} cores${status === 0 ? '' : `, status ${status}`}`,
    );
  }
}
console.log(missed === 0 ? 'every planted fault was caught' : `${missed} planted faults were not caught`);
process.exitCode = missed === 0 ? 0 : 1;
