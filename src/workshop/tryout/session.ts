import { hanging } from '../../fold.ts';
import { isFault } from '../../parts/fault.ts';
import type { Bench, Finding, Outcome, Trial } from './bench.ts';

export interface Tried {
  part: string;
  verdict: Outcome['verdict'] | 'left out' | 'not fitted';
  findings: readonly Finding[];
}

/** Answers for a person where cautions are due: only a typed `yes` is one. Throws when the person stops. */
export type Consent = (question: string) => Promise<boolean>;

const words: Record<Tried['verdict'], string> = {
  works: 'works',
  fails: 'does not work yet',
  unjudged: 'was driven; nobody was there to judge it',
  'left out': 'left out',
  'not fitted': 'not fitted',
};

const tryOne = async (trial: Trial, bench: Bench, consent: Consent): Promise<Omit<Tried, 'part'>> => {
  const unfitted = trial.unfitted(bench.config);
  if (unfitted !== '') {
    bench.say(`Not fitted: ${unfitted} is empty.\n`);
    return { verdict: 'not fitted', findings: [] };
  }
  const lacking = bench.lacks(trial.part);
  if (lacking !== '') {
    bench.say(`It can’t be had: ${lacking}\n`);
    return { verdict: 'fails', findings: [] };
  }
  for (const caution of trial.cautions) bench.say(hanging('  ! ', caution));
  if (
    trial.cautions.length > 0 &&
    !(await consent('Type yes when all of that is seen to; anything else leaves this part out: '))
  ) {
    bench.say('Left out.\n');
    return { verdict: 'left out', findings: [] };
  }
  try {
    return await trial.run(bench);
  } catch (error) {
    if (!isFault(error) || error.exitCode !== 4) throw error;
    bench.say(`${error.message}\n${error.mend === '' ? '' : `  ${error.mend}\n`}`);
    return { verdict: 'fails', findings: [] };
  }
};

/** One part after another; what came of each is put into `tried` at once, so that it is there however this ends. */
export const tryParts = async (
  trials: readonly Trial[],
  bench: Bench,
  consent: Consent,
  tried: Tried[],
): Promise<void> => {
  for (const [index, trial] of trials.entries()) {
    const place = trials.length === 1 ? '' : ` (${index + 1} of ${trials.length})`;
    bench.say(`\n${trial.part}${place}: ${trial.does}\n`);
    tried.push({ part: trial.part, ...(await tryOne(trial, bench, consent)) });
  }
};

export const summaryText = (tried: readonly Tried[]): string => {
  const width = Math.max(...tried.map(({ part }) => part.length));
  return tried.map(({ part, verdict }) => `  ${part.padEnd(width)}  ${words[verdict]}\n`).join('');
};
