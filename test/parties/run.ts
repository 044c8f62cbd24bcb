import { mkdirSync, readdirSync, writeFileSync } from 'node:fs';
import { availableParallelism } from 'node:os';
import { parseArgs } from 'node:util';
import { Worker } from 'node:worker_threads';
import { runParty } from '../../sim/party-run.ts';
import { chance } from '../../sim/random.ts';
import type { Script } from '../../sim/script.ts';
import { camera } from './program.ts';
import { shrink } from './shrink.ts';
import { type PartyName, partyOf, type Report } from './worker.ts';

const help = `Parties with faults, judged by what the virtual parts recorded and what is on paper.

  npm run parties -- --seeds 200            so many parties, from seed 1 on
  npm run parties -- --seeds 200 --from 5000
  npm run parties -- --seeds 200 --for TEXT seeds drawn from a text, for instance a commit
  npm run parties -- --seed 17              one party, with its log
  npm run parties -- --script FILE          a shrunk party again, with its log
  npm run parties -- --seeds 200 --allow 6  fails only beyond so many, while a fault is known and open
  npm run parties -- --until-caught         stops at the first violation, kept scripts first (for planted faults)
`;

const { values } = parseArgs({
  options: {
    seeds: { type: 'string', default: '100' },
    from: { type: 'string', default: '1' },
    for: { type: 'string' },
    seed: { type: 'string' },
    script: { type: 'string' },
    /** So many may fail: while a fault is known and open, what is new still fails. */
    allow: { type: 'string', default: '0' },
    'until-caught': { type: 'boolean', default: false },
    help: { type: 'boolean', short: 'h', default: false },
  },
});

const say = (text: string) => process.stdout.write(`${text}\n`);

const one = (script: Script): number => {
  const { violations, ...counts } = runParty(script, camera, { onLog: line => say(JSON.stringify(line)) });
  say(JSON.stringify(counts));
  for (const { promise, atUs, what } of violations) say(`VIOLATED ${promise} at ${(atUs / 1e6).toFixed(6)} s: ${what}`);
  return violations.length === 0 ? 0 : 1;
};

const seedsOf = (): number[] => {
  const count = Number(values.seeds);
  if (values.for === undefined) return Array.from({ length: count }, (_, i) => Number(values.from) + i);
  const luck = chance(0).fork(values.for);
  return Array.from({ length: count }, () => luck.whole(1, 2 ** 31));
};

const keptFolder = 'test/parties/kept';
const keptScripts = () => readdirSync(keptFolder).map(name => `${keptFolder}/${name}`);
const foundFolder = 'test/parties/found';

/** Fails the same way: another promise broken would be another find. */
const shrunk = (name: PartyName, promise: string): Script => {
  const party = partyOf(name);
  return shrink(party, script => runParty(script, camera).violations.some(found => found.promise === promise));
};

const many = async (seeds: readonly PartyName[]): Promise<number> => {
  const startedMs = Date.now();
  const sums = { presses: 0, taken: 0, acknowledged: 0, printed: 0, cuts: 0, lifeS: 0 };
  const failed: Report[] = [];
  let next = 0;
  let done = 0;
  let shownMs = 0;
  const show = () => {
    if (!process.stderr.isTTY || Date.now() - shownMs < 200) return;
    shownMs = Date.now();
    process.stderr.write(`\r${done} of ${seeds.length} parties, ${sums.presses} presses, ${failed.length} failed `);
  };
  const batchSeeds = Math.max(1, Math.min(8, Math.ceil(seeds.length / availableParallelism() / 4)));
  await Promise.all(
    Array.from({ length: Math.min(availableParallelism(), seeds.length) }, () => {
      const worker = new Worker(new URL('./worker.mjs', import.meta.url), {
        resourceLimits: { maxYoungGenerationSizeMb: 128 },
      });
      return new Promise<void>((resolve, reject) => {
        const give = () => {
          const enough = values['until-caught'] && failed.length > 0;
          const batch = enough ? [] : seeds.slice(next, next + batchSeeds);
          next += batch.length;
          if (batch.length > 0) return worker.postMessage(batch);
          void worker.terminate().then(() => resolve());
        };
        worker.on('error', reject);
        worker.on('message', (reports: Report[]) => {
          for (const report of reports) {
            done++;
            for (const key of Object.keys(sums) as (keyof typeof sums)[]) sums[key] += report[key];
            if (report.violations.length > 0) failed.push(report);
          }
          show();
          give();
        });
        give();
      });
    }),
  );
  if (process.stderr.isTTY) process.stderr.write('\r');
  const seconds = (Date.now() - startedMs) / 1000;
  say(
    `${done} parties, ${sums.presses} presses, ${sums.taken} pictures taken, ${sums.acknowledged} acknowledged, ${sums.printed} printed, ${sums.cuts} power cuts, ${(sums.lifeS / 3600).toFixed(1)} h of life in ${seconds.toFixed(0)} s (${Math.round(sums.lifeS / seconds)} × life): ${failed.length} with violations`,
  );
  failed.sort((a, b) => Number(a.name) - Number(b.name));
  for (const { name, violations } of failed.slice(0, 40)) {
    const [{ promise, atUs, what }] = violations;
    say(`party ${name}: ${violations.length}, first ${promise} at ${(atUs / 1e6).toFixed(3)} s: ${what.slice(0, 400)}`);
  }
  if (values['until-caught']) return failed.length === 0 ? 0 : 1;
  for (const { name, violations } of failed.slice(0, 5)) {
    const script = shrunk(name, violations[0].promise);
    mkdirSync(foundFolder, { recursive: true });
    const file = `${foundFolder}/${violations[0].promise}-${name}.json`;
    writeFileSync(file, `${JSON.stringify(script, null, 1)}\n`);
    say(`party ${name} shrunk to ${script.steps.length} steps: npm run parties -- --script ${file}`);
  }
  return failed.length <= Number(values.allow) ? 0 : 1;
};

if (values.help) say(help);
else if (values.script) process.exitCode = one(partyOf(values.script));
else if (values.seed) process.exitCode = one(partyOf(Number(values.seed)));
else process.exitCode = await many(values['until-caught'] ? [...keptScripts(), ...seedsOf()] : seedsOf());
