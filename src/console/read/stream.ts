import { beginsForeign, type Foreign, foreignStart, readForeign } from './foreign.ts';
import { createLineSplitter } from './lines.ts';
import { type LogRecord, ownEnd, ownStart, readOwn, readUnknown } from './own.ts';

export interface Place {
  /** Lines of the stream from 1 on; a torn line counts where it ends. */
  line: number;
  /** Bytes of the stream up to the end of that line. */
  endByte: number;
}

/** What a console carried, in order. */
export type Heard = Place &
  (
    | { kind: 'own'; record: LogRecord }
    /** In the form of our log, but of another version. */
    | { kind: 'unknown'; text: string }
    /** Begins as a line of ours and isn't one any more: a part is missing, or noise came in. Kept as it came. */
    | { kind: 'damaged'; text: string }
    | Foreign
  );

export interface ConsoleParser {
  push(chunk: Uint8Array): Heard[];
  end(): Heard[];
  readonly bytes: number;
  readonly lines: number;
}

/** A line of ours waits for its other half behind so many lines of others: the kernel may have much to say. */
const mostBetween = 4096;
/** Where it isn't even known whether somebody came between. */
const mostBetweenUnknown = 40;
/** Longer lines aren't tried at every place where they may have been torn. */
const longestTried = 2000;

/** What may be a piece of ours; what stood behind it in its line was somebody else's and has been passed on. */
interface Piece {
  text: string;
  at: Place;
}
/** The pieces of a torn line so far: the first one, and others that may go on with it. */
interface Torn {
  pieces: Piece[];
  /** Whether it is known where ours ends in the first piece. */
  known: boolean;
  between: number;
}
interface Way {
  record: LogRecord | null;
  /** Somebody else's text at the end of the first piece. */
  foreign: string;
  /** How many pieces belong to the line. */
  used: number;
}

/** The one way to read it; null where there is none, or where two ways disagree. */
const onlyOne = <T extends { record: LogRecord | null }>(ways: Iterable<T>): (T & { record: LogRecord }) | null => {
  let found: (T & { record: LogRecord }) | null = null;
  let text = '';
  for (const way of ways) {
    if (!way.record) continue;
    const now = JSON.stringify(way.record);
    if (found && now !== text) return null;
    found ??= way as T & { record: LogRecord };
    text = now;
  }
  return found;
};

const foreignIn = (text: string): number => {
  foreignStart.lastIndex = 1;
  return foreignStart.exec(text)?.index ?? -1;
};

/** Where ours begins in a line; a torn beginning counts where the line itself begins with it. */
const startOfOwn = (text: string): number => {
  const start = text.indexOf(ownStart);
  if (start >= 0 || text[0] !== ownStart[0]) return start;
  const cut = foreignIn(text);
  return ownStart.startsWith(cut < 0 ? text : text.slice(0, cut)) ? 0 : -1;
};

/** Ours with a piece of somebody else's inside one line. */
const cutOut = (text: string): { record: LogRecord; foreign: string } | null => {
  const from = text.length > longestTried ? -1 : foreignIn(text);
  if (from < 0) return null;
  const way = onlyOne(
    (function* () {
      for (let to = from + 1; to < text.length; to++)
        yield { record: readOwn(text.slice(0, from) + text.slice(to)), foreign: text.slice(from, to) };
    })(),
  );
  return way;
};

/** Ways in which a line ends what is torn. */
function* waysToJoin({ pieces, known }: Torn, end: string): Generator<Way> {
  const [{ text: first }] = pieces;
  if (known) {
    let text = '';
    for (const [i, { text: piece }] of pieces.entries()) {
      text += piece;
      yield { record: readOwn(text + end), foreign: '', used: i + 1 };
    }
    return;
  }
  // Nobody knows where ours ends in the first piece: every place is tried.
  const from = first.length > longestTried ? first.length : Math.min(first.length, ownStart.length);
  for (let cut = first.length; cut >= from; cut--) {
    const foreign = first.slice(cut);
    // Nobody says a bare number, and noise is nobody's line: that would be a piece of ours.
    if (foreign === '' || (/[^0-9.eE+-]/.test(foreign) && /^[ -~]*$/.test(foreign)))
      yield { record: readOwn(first.slice(0, cut) + end), foreign, used: 1 };
  }
}

/**
 * Takes a console apart: lines of ours (JSON), of the kernel, of the service manager, and anything else. Lines may be
 * torn by others that came between, glued together, or spoilt by noise. What can be read in one way only is read; what
 * can't is passed on as it came. Nothing is lost, and nothing is guessed.
 */
export const createConsoleParser = (): ConsoleParser => {
  const splitter = createLineSplitter();
  let bytes = 0;
  let here: Place = { line: 0, endByte: 0 };
  let out: Heard[] = [];
  let torn: Torn | null = null;
  /** Somebody's line that ours cut in two. */
  let begun: string | null = null;

  const sayBegun = (at = here) => {
    if (begun !== null) out.push({ ...at, ...readForeign(begun) });
    begun = null;
  };
  const foreign = (text: string, at = here) => {
    if (text.trim() === '') return;
    if (begun !== null && !beginsForeign(text)) begun += text;
    else {
      sayBegun(at);
      begun = text;
    }
    sayBegun(at);
  };
  const giveUp = () => {
    if (!torn) return;
    const [first, ...rest] = torn.pieces;
    torn = null;
    out.push({ ...first.at, kind: 'damaged', text: readForeign(first.text).text });
    for (const { text, at } of rest) foreign(text, at);
  };
  const own = (record: LogRecord) => out.push({ ...here, kind: 'own', record });

  /** A piece that begins as ours do. */
  const ownPiece = (text: string): void => {
    giveUp();
    const end = ownEnd(text, 0);
    if (end > 0) {
      const whole = text.slice(0, end);
      const record = readOwn(whole);
      const unknown = record ? null : readUnknown(whole);
      if (record) own(record);
      else if (unknown !== null) out.push({ ...here, kind: 'unknown', text: unknown });
      if (record || unknown !== null) {
        piece(text.slice(end));
        return;
      }
    }
    const next = text.indexOf(ownStart, 1);
    if (next > 0) {
      out.push({ ...here, kind: 'damaged', text: readForeign(text.slice(0, next)).text });
      ownPiece(text.slice(next));
      return;
    }
    const cut = cutOut(text);
    if (cut) {
      sayBegun();
      begun = cut.foreign;
      own(cut.record);
      return;
    }
    const at = foreignIn(text);
    // It has its own end: noise came in, and nothing of it is to follow.
    if (at < 0 && text.endsWith('}')) {
      out.push({ ...here, kind: 'damaged', text: readForeign(text).text });
      return;
    }
    torn = { pieces: [{ text: at < 0 ? text : text.slice(0, at), at: here }], known: at >= 0, between: 0 };
    if (at >= 0) foreign(text.slice(at));
  };
  const piece = (text: string): void => {
    const start = startOfOwn(text);
    if (start < 0) {
      foreign(text);
      return;
    }
    const before = text.slice(0, start);
    if (before.trim() !== '') {
      if (beginsForeign(before)) {
        sayBegun();
        begun = before;
      } else foreign(before);
    }
    ownPiece(text.slice(start));
  };
  /** Whether this line ends what was torn, or may go on with it. */
  const mends = (now: Torn, text: string): boolean => {
    const end = text.lastIndexOf('}') + 1;
    const joined = end > 0 ? onlyOne(waysToJoin(now, text.slice(0, end))) : null;
    if (joined) {
      const rest = now.pieces.slice(joined.used);
      torn = null;
      foreign(joined.foreign);
      for (const { text: one, at } of rest) foreign(one, at);
      own(joined.record);
      piece(text.slice(end));
      return true;
    }
    const isForeign = beginsForeign(text);
    // An end that doesn't fit is the end of it nevertheless.
    const isEnd = end > 0 && end === text.length && !isForeign;
    if (isEnd || ++now.between > (now.known ? mostBetween : mostBetweenUnknown)) giveUp();
    if (!torn || !now.known || isForeign) return false;
    const cut = foreignIn(text);
    if (cut <= 0) return false;
    now.pieces.push({ text: text.slice(0, cut), at: here });
    foreign(text.slice(cut));
    return true;
  };
  const take = (raw: string) => {
    here = { line: here.line + 1, endByte: here.endByte + raw.length + 1 };
    const text = raw.endsWith('\r') ? raw.replace(/\r+$/, '') : raw;
    if (torn && startOfOwn(text) < 0 && mends(torn, text)) return;
    piece(text);
  };

  return {
    push(chunk) {
      bytes += chunk.length;
      out = [];
      for (const text of splitter.push(chunk)) take(text);
      return out;
    },
    end() {
      out = [];
      const last = splitter.end();
      if (last !== '') take(last);
      giveUp();
      sayBegun();
      return out;
    },
    get bytes() {
      return bytes;
    },
    get lines() {
      return here.line;
    },
  };
};
