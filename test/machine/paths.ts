import type { AnyStateNode } from 'xstate';
import { getShortestPaths } from 'xstate/graph';
import type { CameraMachine } from '../../src/machine/camera-machine.ts';
import type { Context } from '../../src/machine/context.ts';
import type { CameraEvent } from '../../src/machine/events.ts';
import { fine } from './desk.ts';
import { example, type Region, type Snapshot, shortName, stateOf } from './model.ts';

export interface Step {
  input: CameraEvent | { type: string };
  /** Where the regions of interest are afterwards. */
  states: Partial<Record<Region, string>>;
}
export interface Path {
  target: string;
  steps: Step[];
}

/** What can be said to the machine now: parts and persons at any time, answers only where something was asked. */
const possible = (snapshot: Snapshot): (CameraEvent | { type: string })[] => {
  const { context } = snapshot;
  const inState = (region: Region, name: string) => stateOf(snapshot, region).split('.').includes(name);
  const answers = (asked: boolean, ...types: string[]) => (asked ? types.map(type => example(type)) : []);
  const timers = (snapshot._nodes as unknown as AnyStateNode[])
    .flatMap(node => node.ownEvents as string[])
    .filter(type => type.startsWith('xstate.after.'))
    .map(type => ({ type }));
  const shot = context.taking.shot;
  return [
    ...['webcam.ready', 'webcam.lost', 'album.opened', 'contact.made', 'contact.broken'].map(type => example(type)),
    { type: 'album.opened', pending: [{ shot: 3, mark: 'kept' }], nextShot: 4, paperUsedMm: 0 },
    { type: 'album.trouble', why: 'read only' },
    { type: 'printer.condition', condition: fine },
    { type: 'printer.condition', condition: { ...fine, paperOut: true } },
    { type: 'service.jog', mm: 5 },
    { type: 'service.jog', mm: -5 },
    ...['service.load', 'service.loaded', 'service.close'].map(type => example(type)),
    ...answers(inState('exposure', 'firing') || inState('exposure', 'answering'), 'coil.off'),
    ...answers(inState('exposure', 'grabbing'), 'frame.fit'),
    ...(inState('exposure', 'keeping') ? [example('keep.done', shot), example('keep.failed', shot)] : []),
    ...answers(inState('output', 'recalling'), 'recall.done', 'recall.failed'),
    ...answers(inState('output', 'developing'), 'develop.done', 'develop.failed'),
    ...answers(inState('output', 'printing'), 'body.done', 'body.stopped'),
    ...(inState('output', 'marking')
      ? ['mark.done', 'mark.failed'].map(type => ({
          ...example(type, context.queue[0].shot),
          mark: inState('output', 'filing') ? 'printed' : 'closing',
        }))
      : []),
    ...answers(inState('output', 'presenting'), 'tail.done', 'tail.stopped'),
    ...answers(
      ['forward', 'back', 'intake'].some(name => inState('service', name)),
      'feed.done',
      'feed.stopped',
    ),
    ...timers,
  ];
};

/** Inputs that come with time, soonest first: of those that are under way only the soonest can come next. */
const timed = [
  'after settle',
  'coil.off',
  'after lockout',
  'after healed',
  'after refusedShown',
  'after hold',
  'after frameTimeout',
  'after missedShown',
  'after markAgain',
  'after unkeptShown',
  'after rest',
  'after closing',
  'after keep',
  'after loadingIdle',
];
const soonest = (inputs: (CameraEvent | { type: string })[]): (CameraEvent | { type: string })[] => {
  const ranks = inputs.map(({ type }) => timed.indexOf(shortName(type)));
  const first = Math.min(...ranks.filter(rank => rank >= 0));
  return inputs.filter((_, i) => ranks[i] < 0 || ranks[i] === first);
};

/** What the search for ways to a region's states looks at; the rest of the machine comes along as it is. */
const interests: Record<Region, { regions: readonly Region[]; inputs: RegExp; facts(context: Context): unknown }> = {
  facts: { regions: ['facts'], inputs: /^service/, facts: () => 0 },
  button: { regions: ['button'], inputs: /^contact|service.close|settle/, facts: () => 0 },
  exposure: {
    regions: ['exposure', 'button'],
    inputs: /^webcam|^album|^contact|^coil|^frame|^keep|after\.(settle|frameTimeout|keep|lockout)/,
    facts: ({ seeing, albumKnown }) => [seeing, albumKnown],
  },
  output: {
    regions: ['output', 'exposure', 'button'],
    inputs:
      /^webcam.ready|^album.opened|^printer|^contact.made|^coil|^frame|^keep.done|^recall|^develop|^body|^mark|^tail|after\.(settle|rest|healed|markAgain)/,
    facts: ({ seeing, albumKnown, condition, queue: [first], dotsOf }) => [
      seeing,
      albumKnown,
      condition.lost || condition.paperOut,
      first && [first.stage, first.kept, first.inMemory, dotsOf === first.shot],
    ],
  },
  service: {
    regions: ['service', 'button', 'output'],
    inputs:
      /^printer|^contact|^service|^feed|^album.opened|^recall.done|^develop.done|after\.(settle|hold|loadingIdle)/,
    facts: ({ condition, queue, jogMm, dotsOf }) => [
      condition.lost || condition.paperOut,
      queue.length,
      jogMm < 0,
      dotsOf,
    ],
  },
  notice: {
    regions: ['notice', 'exposure', 'button'],
    inputs: /^webcam|^album.opened|^contact|^coil|^frame|^keep|after/,
    facts: ({ seeing, albumKnown }) => [seeing, albumKnown],
  },
};

/** Shortest ways from switching on to every state of a region and everything that matters there, by `xstate/graph`. */
export const pathsTo = (machine: CameraMachine, region: Region): Path[] => {
  const { regions, inputs, facts } = interests[region];
  const seen = (snapshot: Snapshot) => Object.fromEntries(regions.map(each => [each, stateOf(snapshot, each)]));
  const paths = getShortestPaths(machine, {
    events: ((snapshot: Snapshot) => soonest(possible(snapshot).filter(({ type }) => inputs.test(type)))) as never,
    serializeState: (snapshot: Snapshot) =>
      snapshot.status === 'done' ? 'closed' : JSON.stringify([seen(snapshot), facts(snapshot.context)]),
    serializeEvent: event => JSON.stringify(event),
    filterEvents: ((snapshot: Snapshot) => snapshot.status === 'active') as never,
    limit: 20_000,
  });
  return (paths as unknown as { state: Snapshot; steps: { event: CameraEvent; state: Snapshot }[] }[]).map(
    ({ state, steps }) => ({
      target: stateOf(state, region),
      // The first step is the start itself; each carries the state after its event.
      steps: steps.slice(1).map(({ event, state: after }) => ({ input: event, states: seen(after) })),
    }),
  );
};

export const inWords = ({ steps }: Path): string => steps.map(({ input }) => shortName(input.type)).join(', ');
