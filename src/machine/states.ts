/** Where each region is, nested states joined by dots: `waiting.healing`. */
export interface States {
  button: string;
  exposure: string;
  output: string;
  service: string;
  notice: string;
}

type Value = string | { [region: string]: Value | undefined };

const flat = (value: Value | undefined): string => {
  if (value === undefined) return '';
  if (typeof value === 'string') return value;
  const [name] = Object.keys(value);
  return `${name}.${flat(value[name])}`;
};

export const closedStates: States = {
  button: 'closed',
  exposure: 'closed',
  output: 'closed',
  service: 'closed',
  notice: 'closed',
};

/** From the machine's state value to a string a region. */
export const statesOf = (value: Value): States => {
  const awake = typeof value === 'string' ? undefined : value.awake;
  if (awake === undefined || typeof awake === 'string') return closedStates;
  return {
    button: flat(awake.button),
    exposure: flat(awake.exposure),
    output: flat(awake.output),
    service: flat(awake.service),
    notice: flat(awake.notice),
  };
};

export const sameStates = (a: States, b: States): boolean =>
  a.button === b.button &&
  a.exposure === b.exposure &&
  a.output === b.output &&
  a.service === b.service &&
  a.notice === b.notice;
