import { createScanner, type Node, type ParseError, parseTree, printParseErrorCode } from 'jsonc-parser';

/** A place in a settings file and what is wrong there. */
export interface SettingFault {
  /** Line, counted from 1. */
  line: number;
  /** Names from the top down to the setting; empty for the file as a whole. */
  path: readonly (string | number)[];
  /** What is there and what is wrong with it. */
  what: string;
  /** What is allowed, or what was probably meant. */
  mend: string;
}

export interface Parsed {
  value: unknown;
  faults: SettingFault[];
  /** Line of the deepest part of this path that the file has. */
  lineOf(path: readonly PropertyKey[]): number;
}

const longestText = 1_000_000;
const deepest = 32;

const syntaxWords: Record<string, string> = {
  InvalidSymbol: 'this is no JSON value: text stands in double quotes, the rest is a number, true, false or null',
  InvalidNumberFormat: 'this is no number as JSON writes it',
  PropertyNameExpected: 'the name of a setting in double quotes is expected here',
  ValueExpected: 'a value is expected here',
  ColonExpected: 'a colon is expected here, between name and value',
  CommaExpected: 'a comma is missing before this',
  CloseBraceExpected: 'a closing } is missing',
  CloseBracketExpected: 'a closing ] is missing',
  EndOfFileExpected: 'the settings have ended before this; something is left over',
  InvalidCommentToken: 'this is no comment: comments are // to the end of the line or /* … */',
  UnexpectedEndOfComment: 'a comment is not closed by */',
  UnexpectedEndOfString: 'a text is not closed by a double quote on its line',
  UnexpectedEndOfNumber: 'a number breaks off here',
  InvalidUnicode: 'after \\u stand four hexadecimal digits',
  InvalidEscapeCharacter: 'in a text, a backslash is written \\\\',
  InvalidCharacter: 'a text can’t hold control characters',
};

const fault = (line: number, path: readonly (string | number)[], what: string, mend: string): SettingFault => ({
  line,
  path,
  what,
  mend,
});

/** Nesting that no settings file has would exhaust the parser's stack. */
const tooDeep = (text: string): number | null => {
  const scanner = createScanner(text, true);
  let depth = 0;
  // Token kinds of jsonc-parser's SyntaxKind: 1 {, 2 }, 3 [, 4 ], 17 end of file.
  for (let kind: number = scanner.scan(); kind !== 17; kind = scanner.scan()) {
    if (kind === 1 || kind === 3) depth++;
    if (kind === 2 || kind === 4) depth--;
    if (depth > deepest) return scanner.getTokenOffset();
  }
  return null;
};

const lineStarts = (text: string): ((offset: number) => number) => {
  const starts = [0];
  for (let at = text.indexOf('\n'); at !== -1; at = text.indexOf('\n', at + 1)) starts.push(at + 1);
  return offset => {
    let low = 0;
    let high = starts.length;
    while (high - low > 1) {
      const middle = (low + high) >> 1;
      if (starts[middle] <= offset) low = middle;
      else high = middle;
    }
    return low + 1;
  };
};

/** One fault a line is enough: the ones behind the first are its consequences. */
const syntaxFaults = (text: string, errors: readonly ParseError[], lineAt: (offset: number) => number) => {
  const faults = new Map<number, SettingFault>();
  for (const { error, offset } of errors) {
    const line = lineAt(offset);
    if (faults.has(line)) continue;
    const near = text
      .slice(offset, offset + 20)
      .split(/[\r\n]/)[0]
      .trim();
    const where = near === '' ? '' : `at '${near}': `;
    const words = syntaxWords[printParseErrorCode(error)] ?? 'this can’t be read as JSON';
    faults.set(line, fault(line, [], `${where}${words}`, ''));
  }
  return [...faults.values()];
};

/**
 * JSON with comments, read into a value and its lines. Objects come without a prototype's tricks: `__proto__` is refused,
 * and so is the same name twice, of which one would silently win.
 */
export const parseText = (given: string): Parsed => {
  // A byte-order mark isn't the writer's doing.
  const text = given.startsWith('\uFEFF') ? ` ${given.slice(1)}` : given;
  const lineAt = lineStarts(text);
  if (text.length > longestText) {
    const what = `is ${text.length} characters long`;
    return { value: undefined, faults: [fault(1, [], what, `at most ${longestText}`)], lineOf: () => 1 };
  }
  const deepAt = tooDeep(text);
  if (deepAt !== null) {
    const deep = fault(lineAt(deepAt), [], `groups are nested deeper than ${deepest}`, '');
    return { value: undefined, faults: [deep], lineOf: () => 1 };
  }
  const errors: ParseError[] = [];
  const root = parseTree(text, errors, { allowTrailingComma: true, disallowComments: false });
  const faults = root
    ? syntaxFaults(text, errors, lineAt)
    : [fault(1, [], 'holds no settings', 'the least that can stand there is {}; every setting has a default')];

  const plain = (node: Node, path: readonly (string | number)[]): unknown => {
    if (node.type === 'array') return (node.children ?? []).map((child, index) => plain(child, [...path, index]));
    if (node.type !== 'object') return node.value;
    const value: Record<string, unknown> = {};
    for (const property of node.children ?? []) {
      const [key, child] = property.children ?? [];
      if (!key || !child) continue;
      const name = key.value as string;
      const at = [...path, name];
      if (name === '__proto__') faults.push(fault(lineAt(key.offset), at, 'can’t be the name of a setting', ''));
      else if (Object.hasOwn(value, name))
        faults.push(fault(lineAt(key.offset), at, 'stands here for the second time', 'leave one of the two'));
      else value[name] = plain(child, at);
    }
    return value;
  };
  const value = root ? plain(root, []) : undefined;

  const lineOf = (path: readonly PropertyKey[]): number => {
    let node = root;
    let offset = root?.offset ?? 0;
    for (const name of path) {
      const children: readonly Node[] = node?.children ?? [];
      const property: Node | undefined =
        node?.type === 'array' ? children[Number(name)] : children.find(child => child.children?.[0]?.value === name);
      if (!property) break;
      offset = property.offset;
      node = node?.type === 'array' ? property : property.children?.[1];
    }
    return lineAt(offset);
  };
  return { value, faults, lineOf };
};
