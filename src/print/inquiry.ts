import type { Clock, Undo } from '../parts/clock.ts';
import type { StatusAsk } from './language.ts';
import { answerFlags, createStatusDecoder, quietFlags, type StatusFlags } from './status.ts';

export interface InquiryHeard {
  /** Flags, or silence, changed. */
  changed(): void;
  fed(feeding: boolean): void;
  /** XOFF and XON. */
  flow(held: boolean): void;
  /** It was silent and speaks again. */
  spoke(): void;
}

/** What was asked and what was answered: the printer's word, as far as it gives one. */
export interface Inquiry {
  readonly flags: StatusFlags;
  /** It should answer and hasn't, several times over. */
  readonly silent: boolean;
  /** When it last said how it is; -Infinity if it never did. */
  readonly saidUs: number;
  /** These asks went out; without any, an automatic status was asked for. */
  asked(asks: readonly StatusAsk[]): void;
  /** Calls once when all that was asked is answered (at once if it is), or wasn't in time; says which. */
  settled(then: (answered: boolean) => void): void;
  take(bytes: Uint8Array): void;
  /** What the port says of a printer that doesn't answer itself. */
  port(paperEnd: boolean, error: boolean): void;
  /** Nobody waits for answers any more. */
  forget(): void;
  /** Another printer, for all that is known. */
  reset(): void;
}

const answerTimeUs = 700_000;
const silentAfter = 3;

/** @param answers Whether the printer is known to answer; of another, only XON and XOFF are heeded. */
export const createInquiry = (clock: Clock, answers: boolean, heard: InquiryHeard): Inquiry => {
  let flags = quietFlags;
  let unanswered = 0;
  let saidUs = Number.NEGATIVE_INFINITY;
  let open: StatusAsk[] = [];
  let automaticOpen = false;
  /** Answers of one round are believed together: half of them would tell of states that never were. */
  let round: Partial<StatusFlags> = {};
  let waiting: ((answered: boolean) => void) | null = null;
  let stopTimer: Undo = () => {};

  const silent = () => unanswered >= silentAfter;
  const isSettled = () => open.length === 0 && !automaticOpen;
  const settle = () => {
    stopTimer();
    const then = waiting;
    waiting = null;
    then?.(true);
  };
  const believe = () => {
    const wasFeeding = flags.feeding;
    const wasSilent = silent();
    flags = { ...flags, ...round };
    round = {};
    unanswered = 0;
    saidUs = clock.nowUs();
    if (wasSilent) heard.spoke();
    if (flags.feeding !== wasFeeding) heard.fed(flags.feeding);
    heard.changed();
    if (isSettled()) settle();
  };
  const decoder = createStatusDecoder(said => {
    switch (said.kind) {
      case 'go':
      case 'stop':
        return heard.flow(said.kind === 'stop');
      case 'automatic':
        if (!answers) return;
        automaticOpen = false;
        round = { ...round, ...said.flags };
        return believe();
      case 'answer': {
        // An answer that nobody asked for (a printer may take image bytes for a question) means nothing.
        const ask = open.shift();
        if (ask === undefined) return;
        round = { ...round, ...answerFlags(ask, said.byte) };
        if (open.length === 0) believe();
      }
    }
  });
  const forget = () => {
    stopTimer();
    waiting = null;
    open = [];
    automaticOpen = false;
    round = {};
  };

  return {
    get flags() {
      return flags;
    },
    get silent() {
      return silent();
    },
    get saidUs() {
      return saidUs;
    },
    asked(asks) {
      if (asks.length === 0) automaticOpen = true;
      else {
        // What the last round left unanswered won't be answered any more; its questions must not take these answers.
        open = [...asks];
        round = {};
      }
    },
    settled(then) {
      if (isSettled()) return then(true);
      waiting = then;
      stopTimer();
      stopTimer = clock.after(answerTimeUs, () => {
        forget();
        unanswered++;
        if (unanswered === silentAfter) heard.changed();
        then(false);
      });
    },
    take: bytes => decoder.take(bytes),
    port(paperEnd, error) {
      flags = { ...flags, paperEnd, error };
      heard.changed();
    },
    forget,
    reset() {
      forget();
      decoder.reset();
      flags = quietFlags;
      unanswered = 0;
    },
  };
};
