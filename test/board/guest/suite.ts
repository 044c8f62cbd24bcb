/**
 * Stands in for vitest inside the guest, where a test runner of full size would take longer to start than the tests:
 * the same words, cases one after another, a line of JSON for each.
 */
import { JestAsymmetricMatchers, JestChaiExpect, JestExtend } from '@vitest/expect';
import * as chai from 'chai';

chai.use(JestExtend);
chai.use(JestChaiExpect);
chai.use(JestAsymmetricMatchers);

export const expect = ((value: unknown, message?: string) => chai.expect(value, message)) as Chai.ExpectStatic;

type Check = () => Promise<void> | void;
const cases: { title: string; check: Check | null }[] = [];
const path: string[] = [];

export const describe = (name: string, define: () => void): void => {
  path.push(name);
  define();
  path.pop();
};
const add = (title: string, check: Check | null) => cases.push({ title: [...path, title].join(' › '), check });
export const it = Object.assign((title: string, check: Check) => void add(title, check), {
  todo: (title: string) => void add(title, null),
});

const messageOf = (error: unknown): string => (error instanceof Error ? (error.stack ?? error.message) : String(error));

/** Runs all cases whose title contains `only`; the guest's program calls it last. */
export const runAll = async (only = ''): Promise<void> => {
  for (const { title, check } of cases) {
    if (!title.includes(only)) continue;
    const began = process.hrtime.bigint();
    let error: string | undefined;
    try {
      await check?.();
    } catch (thrown) {
      error = messageOf(thrown);
    }
    const ms = Math.round(Number(process.hrtime.bigint() - began) / 1e6);
    console.log(JSON.stringify({ title, pending: check === null, error, ms }));
  }
};
