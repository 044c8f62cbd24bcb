import { type Script, type Step, stepsEndS } from '../../sim/script.ts';

/**
 * The shortest script that still fails, as far as leaving steps out goes: halves, then quarters, down to single steps
 * (delta debugging, Zeller and Hildebrandt 2002).
 */
export const shrink = (script: Script, fails: (script: Script) => boolean, tries = 400): Script => {
  let steps: readonly Step[] = script.steps;
  let left = tries;
  const with_ = (kept: readonly Step[]): Script => ({ ...script, steps: [...kept] });
  for (let parts = 2; steps.length > 1 && left > 0; ) {
    const size = Math.ceil(steps.length / parts);
    let shrunk = false;
    for (let from = 0; from < steps.length && left > 0; from += size) {
      const kept = [...steps.slice(0, from), ...steps.slice(from + size)];
      left--;
      if (!fails(with_(kept))) continue;
      steps = kept;
      parts = Math.max(2, parts - 1);
      shrunk = true;
      break;
    }
    if (!shrunk) {
      if (size === 1) break;
      parts = Math.min(steps.length, parts * 2);
    }
  }
  // What comes after the last step is only waiting.
  const sooner = { ...with_(steps), endS: Math.min(script.endS, Math.ceil(stepsEndS(steps) + 3)) };
  return fails(sooner) ? sooner : with_(steps);
};
