/** A number of things in words: `1 picture`, `2,070 inputs`; `plural` where an s doesn't make it. */
export const counted = (count: number, what: string, plural = `${what}s`): string =>
  `${count.toLocaleString('en')} ${count === 1 ? what : plural}`;
