import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll } from 'vitest';
import { createDeskBench } from '../../../sim/desk-bench.ts';
import { loadProfile } from '../../../src/config/load-profile.ts';
import { type Config, configSchema } from '../../../src/config/schema.ts';
import { Fault } from '../../../src/parts/fault.ts';
import type { Bench } from '../../../src/workshop/tryout/bench.ts';
import { type Tried, tryParts } from '../../../src/workshop/tryout/session.ts';
import { trials } from '../../../src/workshop/tryout/trials.ts';

export type Deep<T> = { [K in keyof T]?: T[K] extends object ? Deep<T[K]> : T[K] };
export type Answer = boolean | null | 'stop';

/** A small frame: what is tried here is order, answers and letting go. */
export const small = { webcam: { widthPx: 160, heightPx: 120 }, supply: { sensor: 'desk' } };

export const folder = mkdtempSync(join(tmpdir(), 'tryout-'));
afterAll(() => rmSync(folder, { recursive: true }));
/** A printer that says nothing. */
export const mute = join(folder, 'mute.json');
writeFileSync(mute, JSON.stringify({ commands: { status: 'none' } }));

const stopped = () => new Fault('usage', 'stopped', '');

export const tryOut = async (
  parts: readonly string[],
  {
    answers = () => true,
    consents = () => true,
    stopAfterPauses = Number.POSITIVE_INFINITY,
    settings = {},
    lacks = {},
    before = () => {},
  }: {
    answers?: (question: string, asked: number) => Answer;
    consents?: (part: string) => boolean | 'stop';
    stopAfterPauses?: number;
    settings?: Deep<Config>;
    lacks?: Record<string, string>;
    before?: (desk: ReturnType<typeof createDeskBench>) => void;
  } = {},
) => {
  const config = configSchema.parse({ ...small, ...settings, supply: { ...small.supply, ...settings.supply } });
  const profile = loadProfile(config.printer.profile);
  const desk = createDeskBench(config, profile);
  before(desk);
  let said = '';
  let pauses = 0;
  let asked = 0;
  const questions: string[] = [];
  const files: string[] = [];
  const bench: Bench = {
    rig: desk.rig,
    config,
    profile,
    nowUs: desk.nowUs,
    say: text => {
      said += text;
    },
    async sees(question) {
      questions.push(question);
      const answer = answers(question, asked++);
      if (answer === 'stop') throw stopped();
      return answer;
    },
    async pause(ms) {
      // Stopped in the middle of it.
      if (++pauses > stopAfterPauses) {
        desk.run(ms / 2);
        throw stopped();
      }
      desk.run(ms);
    },
    hand: (_, times) => desk.press(times),
    paper: desk.paper,
    keep(name) {
      files.push(name);
      return name;
    },
    lacks: part => lacks[part] ?? '',
    webcamOffers: async () => null,
    volts: () => desk.control.supply.volts(),
  };
  const tried: Tried[] = [];
  const wanted = trials.filter(({ part }) => parts.length === 0 || parts.includes(part));
  let end: unknown = null;
  await tryParts(
    wanted,
    bench,
    async () => {
      const part = wanted[tried.length].part;
      const agrees = consents(part);
      if (agrees === 'stop') throw stopped();
      return agrees;
    },
    tried,
  ).catch((error: unknown) => {
    end = error;
  });
  const liveAtOnce = desk.live().filter(part => part !== 'head');
  // What lies in the printer's own buffer is printed; then nothing is on.
  desk.run(500);
  return { tried, said, questions, files, desk, end, pauses, liveAtOnce, live: desk.live() };
};
export const verdicts = (tried: readonly Tried[]) => tried.map(({ part, verdict }) => `${part} ${verdict}`);
export const found = (tried: readonly Tried[]) =>
  Object.fromEntries(tried.flatMap(one => one.findings.map(({ path, value }) => [path.join('.'), value])));
