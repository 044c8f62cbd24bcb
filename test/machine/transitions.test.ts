import { describe, expect, it } from 'vitest';
import type { CameraMachine } from '../../src/machine/camera-machine.ts';
import {
  atomicStates,
  createStillMachine,
  inputTypes,
  outcome,
  ownEvents,
  queued,
  type Region,
  regions,
  snapshotAt,
  stateOf,
  step,
  wellContext,
} from './model.ts';
import { table } from './transition-table.ts';
import { eventOf, usual, type Variant, variants } from './variants.ts';

const words = (text: string) =>
  text
    .trim()
    .split(/\s*\|\s*|\s+/)
    .filter(word => word !== '');
const listed = (text: string) => (text.includes('|') ? text.split('|').map(word => word.trim()) : words(text));

interface Row {
  input: string;
  variant: string;
  outcome: string;
}
const rowsOf = (text: string): Row[] =>
  text
    .split('\n')
    .filter(line => line.trim() !== '')
    .map(line => {
      const found = /^\s*(.+?)(?: \[(.+)\])?\s{2,}(-> \S+|again|acts|ignored)$/.exec(line);
      if (!found) throw new Error(`not a row: ${line}`);
      return { input: found[1], variant: found[2] ?? '', outcome: found[3] };
    });

const machines = new Map<unknown, CameraMachine>();
const machineFor = ({ config, reverse }: Variant): CameraMachine => {
  const key = config ?? reverse ?? 'usual';
  let machine = machines.get(key);
  if (!machine) {
    machine = createStillMachine(config, reverse);
    machines.set(key, machine);
  }
  return machine;
};
const plain = machineFor({});

/** States that hand on at once; looked at in a test of their own. */
const passing: Record<string, readonly string[]> = { output: ['choosing'] };
const restingStates = (region: Region) =>
  atomicStates(plain, region).filter(({ name }) => !passing[region]?.includes(name));

const observed = (region: Region, state: string, input: string, variantName: string): string => {
  const base = usual[`${region} ${state}`] ?? {};
  const variant = variantName === '' ? {} : variants[variantName];
  if (!variant) throw new Error(`no circumstances are named "${variantName}"`);
  const machine = machineFor(variant);
  const own = ownEvents(restingStates(region).find(({ name }) => name === state)?.node as never);
  const from = snapshotAt(
    machine,
    { ...base.at, ...variant.at, [region]: state },
    wellContext({ ...base.context, ...variant.context }),
  );
  return outcome(
    machine,
    from,
    region,
    own.has(input) ? { type: own.get(input) ?? '' } : eventOf(input, variant, `${region} ${state}`),
  );
};

describe.each(regions)('transitions of %s', region => {
  const { never, states } = table[region];
  const inputs = inputTypes(plain);

  it('the table names exactly the states of the region and only inputs that exist', () => {
    expect(Object.keys(states).sort()).toEqual(
      restingStates(region)
        .map(({ name }) => name)
        .sort(),
    );
    expect(words(never).filter(input => !inputs.includes(input))).toEqual([]);
  });

  it.each(restingStates(region).map(({ name, node }) => [name, node] as const))('%s', (state, node) => {
    const rows = rowsOf(states[state].rows);
    const ignores = listed(states[state].ignores);
    const said = [
      ...words(never),
      ...ignores,
      ...rows.filter(({ variant }) => variant === '').map(({ input }) => input),
    ];
    const due = [...inputs, ...ownEvents(node).keys()];

    // Every pair once: nothing left to XState's silence, nothing said twice.
    const withRows = new Set(rows.map(({ input }) => input));
    expect(due.filter(input => !said.includes(input) && !withRows.has(input))).toEqual([]);
    expect(said.filter((input, i) => said.indexOf(input) !== i)).toEqual([]);
    expect([...said, ...withRows].filter(input => !due.includes(input))).toEqual([]);

    const wanted = [
      ...rows,
      ...[...words(never), ...ignores].map(input => ({ input, variant: '', outcome: 'ignored' })),
    ];
    const found = wanted.map(({ input, variant }) => ({
      input,
      variant,
      outcome: observed(region, state, input, variant),
    }));
    expect(found).toEqual(wanted);
  });
});

describe('transitions of the whole', () => {
  it('nothing wakes a closed camera', () => {
    const closed = step(plain, snapshotAt(plain, {}), { type: 'service.close', why: 'test' });
    expect(closed.status).toBe('done');
    for (const input of inputTypes(plain)) expect(step(plain, closed, eventOf(input, {})).value).toBe('closed');
  });

  it('choosing never rests, whatever is in hand', () => {
    const queues = [
      { stage: 'body', inMemory: true },
      { stage: 'body', inMemory: false },
      { stage: 'tail', inMemory: false },
    ] as const;
    for (const first of queues)
      for (const dotsOf of [null, 7])
        for (const paperOut of [false, true]) {
          const queue = [queued(7, first)];
          const context = wellContext({ queue, dotsOf });
          context.condition = { ...context.condition, paperOut };
          const next = step(plain, snapshotAt(plain, { output: 'choosing' }, context), {
            type: 'contact.made',
            atUs: 1,
          });
          const wanted =
            first.stage === 'tail'
              ? paperOut
                ? 'waiting.troubled'
                : 'presenting'
              : dotsOf === 7
                ? paperOut
                  ? 'waiting.troubled'
                  : 'printing'
                : first.inMemory
                  ? 'developing'
                  : 'recalling';
          expect(stateOf(next, 'output')).toBe(wanted);
        }
  });

  it('every invoke of a state handles its failure', () => {
    const unhandled: string[] = [];
    const walk = (node: typeof plain.root) => {
      for (const { id, onError } of node.invoke as readonly { id: string; onError?: unknown }[])
        if (!onError) unhandled.push(`${node.id} ${id}`);
      for (const child of Object.values(node.states)) walk(child as typeof plain.root);
    };
    walk(plain.root);
    expect(unhandled).toEqual([]);
  });
});
