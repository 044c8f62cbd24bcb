/** Colours of the report by day and by night; every text colour has a contrast of 4.5 or more on its ground. */
export const day = {
  ground: '#f7f3ea',
  raised: '#fffdf7',
  ink: '#2a282c',
  faint: '#6a655d',
  rule: '#d9d2c3',
  level: '#2f5d8a',
  amount: '#8a4b1f',
  tick: '#5f6f2a',
  word: '#6b3f73',
  fault: '#b3261e',
  chosen: '#f0d58a',
};
export const night: typeof day = {
  ground: '#1b1a1d',
  raised: '#242327',
  ink: '#ece6d9',
  faint: '#a59f93',
  rule: '#3b393f',
  level: '#8fbbe6',
  amount: '#e2a878',
  tick: '#bccb86',
  word: '#d3a4db',
  fault: '#ff8a80',
  chosen: '#5c4a17',
};

/** As CSS custom properties. */
export const asVariables = (look: typeof day): string =>
  Object.entries(look)
    .map(([name, colour]) => `--${name}:${colour};`)
    .join('');

/** A step of 1, 2 or 5 times a power of ten, at least `least`. */
export const roundStep = (least: number): number => {
  const power = 10 ** Math.floor(Math.log10(least));
  return [1, 2, 5, 10].map(times => times * power).find(step => step >= least * (1 - 1e-9)) ?? 10 * power;
};

export const escapeText = (text: string): string => text.replace(/[&<>"']/g, sign => `&#${sign.charCodeAt(0)};`);
