import type { LogRecord } from './read/own.ts';
import type { EventName } from './vocabulary.ts';

const seconds = (ms: unknown): string => {
  const s = Number(ms) / 1000;
  if (s >= 90) return `${Math.floor(s / 60)} min ${Math.round(s % 60)} s`;
  return `${s.toFixed(s < 10 ? 1 : 0)} s`;
};

/** Why a print waits: the words of the log, each with what it means to the one who holds the camera. */
const waits: Record<string, string> = {
  lost: 'the printer doesn’t answer',
  'lid-open': 'the lid is open',
  'paper-out': 'the roll is empty',
  'head-hot': 'the head is too hot',
  'supply-low': 'the battery is low',
  'off-line': 'the printer says that it is off line',
  stopped: 'the printer stopped and doesn’t say why',
};
const refusals: Record<string, string> = {
  warming: 'the webcam is still warming up',
  blind: 'the webcam is gone',
  busy: 'the camera was busy',
  'queue-full': 'enough pictures wait for the printer',
  'supply-low': 'the battery is low',
  'nothing-to-reprint': 'there is no picture to print again',
  closing: 'the camera is closing down',
};
/** What the configuration lets a gesture do. */
const actions: Record<string, string> = {
  none: 'nothing',
  picture: 'take a picture',
  reprint: 'print the last picture again',
  feed: 'feed paper',
  load: 'load a roll',
  'new-roll': 'count a new roll',
  close: 'close down',
};
const services: Record<string, string> = {
  jogging: 'paper is moved by hand',
  loading: 'a roll is being loaded',
  'same-roll': 'loading is over: it is the same roll',
  'new-roll': 'a new roll is in',
  'loading-left': 'loading was left: the paper lies again',
};

export const waitInWords = (why: unknown): string =>
  String(why)
    .split(' ')
    .map(one => waits[one] ?? one)
    .join(', ');

type Say = (record: LogRecord) => string;

/** Events that aren't told by the line of their picture, in plain words. */
const sayings: Partial<Record<EventName, Say>> = {
  start: ({ version, config }) => `the program starts (version ${version}, ${config})`,
  ready: ({ sinceStartMs }) => `ready for pictures (${seconds(sinceStartMs)} since its start)`,
  refused: ({ why }) => `a press was refused: ${refusals[String(why)] ?? why}`,
  gesture: ({ gesture, action }) =>
    `${gesture === 'hold' ? 'a long hold' : gesture === 'double' ? 'a double press' : 'a press'}: ${actions[String(action)] ?? action}`,
  'not-kept': ({ shot, why }) => `picture ${shot} could not be kept and is in memory only: ${why}`,
  missed: ({ shot, why }) => `picture ${shot} was missed: ${why}`,
  'print-cut': ({ shot, why }) => `picture ${shot} was cut short and comes again: ${waitInWords(why)}`,
  waiting: ({ why }) => `the print waits: ${waitInWords(why)}`,
  resumed: ({ waitedMs }) => `the print goes on after ${seconds(waitedMs)}`,
  rest: ({ restMs }) => `the head rests ${seconds(restMs)} to cool`,
  'near-end': ({ paperLeftMm }) =>
    `little paper is left (by the account: ${(Number(paperLeftMm) / 1000).toFixed(2)} m)`,
  'webcam-lost': ({ why }) => `the webcam is gone: ${why}`,
  'webcam-ready': () => 'the webcam streams',
  'printer-lost': ({ why }) => `the printer is gone: ${why}`,
  'printer-found': () => 'the printer is there',
  'album-opened': ({ pending, nextShot }) =>
    `the album is open: ${Number(pending) === 0 ? 'nothing' : pending} to print, the next picture is ${nextShot}`,
  'album-trouble': ({ why }) => `pictures can’t be kept: ${why}`,
  'album-healed': () => 'pictures are kept again',
  supply: ({ volts, low }) => `the battery ${low ? 'is low' : 'has recovered'}: ${Number(volts).toFixed(2)} V`,
  service: ({ state }) => services[String(state)] ?? String(state),
  'coil-fault': ({ why }) => `the shutter failed: ${why}`,
  'part-fault': ({ part, why }) => `${part} failed: ${why}`,
  stalled: ({ lateMs }) => `the program came ${seconds(lateMs)} late`,
  dropped: ({ lines }) => `${lines} log lines are missing here: the console was too slow`,
  'clock-step': ({ stepMs }) => `the board learnt the time (it was ${seconds(Math.abs(Number(stepMs)))} off)`,
  closing: ({ why }) => `closing down: ${why}`,
  closed: ({ pending }) =>
    Number(pending) === 0 ? 'closed; nothing was left to print' : `closed; ${pending} pictures are still to be printed`,
};

/** What a record means, or null where the line of its picture tells it. */
export const recordInWords = (record: LogRecord): string | null => sayings[record.event]?.(record) ?? null;
