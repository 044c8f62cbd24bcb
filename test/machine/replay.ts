import { expect } from 'vitest';
import type { CameraEvent } from '../../src/machine/events.ts';
import type { States } from '../../src/machine/states.ts';
import { createDesk, type Desk, type DeskOptions, frameAt } from './desk.ts';
import type { Region } from './model.ts';
import { inWords, type Path, type Step } from './paths.ts';

/** Longest time that a timer of the machine runs, ms. */
const longestTimerMs = 61_000;

const stateOn = (desk: Desk, region: Region): string | undefined =>
  region === 'facts' ? undefined : desk.machine.states()[region as keyof States];
const arrived = (desk: Desk, states: Step['states']): boolean =>
  (Object.entries(states) as [Region, string][]).every(
    ([region, state]) => region === 'facts' || stateOn(desk, region) === state,
  );

/** What a timer does, or a part that answers by itself: the clock goes on until it has happened. */
const letItHappen = (desk: Desk, states: Step['states']) => {
  const untilUs = desk.clock.nowUs() + longestTimerMs * 1000;
  while (!arrived(desk, states) && desk.clock.step(untilUs));
};

const answer = (desk: Desk, event: CameraEvent) => {
  const { pending } = desk;
  const oldest = <T>(held: T[]): T => {
    const first = held.shift();
    if (first === undefined) throw new Error(`nothing was asked that ${event.type} could answer`);
    return first;
  };
  switch (event.type) {
    case 'keep.done':
      return oldest(pending.keep).answer({ kind: 'kept' });
    case 'keep.failed':
      return oldest(pending.keep).answer({ kind: 'failed', why: event.why });
    case 'mark.done':
      return oldest(pending.mark).answer({ kind: 'kept' });
    case 'mark.failed':
      return oldest(pending.mark).answer({ kind: 'failed', why: event.why });
    case 'recall.done':
      return oldest(pending.recall).answer({
        kind: 'recalled',
        frame: event.frame,
        about: { takenAtMs: null, pressToFrameUs: 0 },
      });
    case 'recall.failed':
      return oldest(pending.recall).answer({ kind: 'failed', why: event.why });
    case 'develop.done':
      return oldest(pending.develop).answer({ kind: 'developed', dots: event.dots });
    case 'develop.failed':
      return oldest(pending.develop).answer({ kind: 'failed', why: event.why });
    case 'body.done':
    case 'tail.done':
    case 'feed.done':
      return oldest(pending.job).answer({ kind: 'done', paperLines: event.paperLines });
    case 'body.stopped':
    case 'tail.stopped':
    case 'feed.stopped':
      return oldest(pending.job).answer({ kind: 'stopped', paperLines: event.paperLines });
    default:
      throw new Error(`no part says ${event.type}`);
  }
};

/** Does to the parts what the step says, as it would happen to a real camera. */
const enact = (desk: Desk, { input, states }: Step) => {
  const event = input as CameraEvent;
  if (event.type.startsWith('xstate.after.') || event.type === 'coil.off') return letItHappen(desk, states);
  switch (event.type) {
    case 'contact.made':
      return desk.contact(true);
    case 'contact.broken':
      return desk.contact(false);
    case 'webcam.ready':
      return desk.say.webcam({ kind: 'ready' });
    case 'webcam.lost':
      return desk.say.webcam({ kind: 'lost', why: event.why });
    case 'album.opened':
      return desk.say.album({
        kind: 'opened',
        pending: event.pending,
        nextShot: event.nextShot,
        paperUsedMm: event.paperUsedMm,
      });
    case 'album.trouble':
      return desk.say.album({ kind: 'trouble', why: event.why });
    case 'printer.condition':
      return desk.say.condition(event.condition);
    case 'frame.fit':
      return desk.say.frame(frameAt(desk.clock.nowUs() + 100_000));
    case 'service.jog':
    case 'service.load':
    case 'service.loaded':
    case 'service.close':
      return desk.machine.send(event);
    default:
      return answer(desk, event);
  }
};

/** Walks a path on scripted parts that answer only when the path says so, and looks at every step where it leads. */
export const replay = (path: Path, options: DeskOptions = {}): Desk => {
  const desk = createDesk({
    byHand: ['start', 'frames', 'keep', 'mark', 'develop', 'recall', 'job'],
    reverse: true,
    ...options,
  });
  path.steps.forEach((step, i) => {
    enact(desk, step);
    const is = Object.fromEntries(Object.keys(step.states).map(region => [region, stateOn(desk, region as Region)]));
    if (!arrived(desk, step.states)) expect(is, `after step ${i + 1} of: ${inWords(path)}`).toEqual(step.states);
  });
  return desk;
};
