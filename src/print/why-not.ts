import type { PrinterCondition } from '../parts/engine.ts';

const words: Partial<Record<keyof PrinterCondition, string>> = {
  lost: 'it doesn’t answer',
  paperOut: 'it has no paper',
  lidOpen: 'its lid is open',
  headHot: 'its head is hot',
  offLine: 'it is off line',
};

/** Why a printer can't print, in words; '' where it can. Of one that was never heard (null): that it doesn't answer. */
export const whyNot = (condition: PrinterCondition | null): string =>
  condition === null
    ? (words.lost ?? '')
    : Object.entries(words)
        .filter(([key]) => condition[key as keyof PrinterCondition])
        .map(([, why]) => why)
        .join(', ');
