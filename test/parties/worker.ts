import { readFileSync } from 'node:fs';
import { parentPort } from 'node:worker_threads';
import { drawParty } from '../../sim/party.ts';
import { type PartyResult, runParty } from '../../sim/party-run.ts';
import { type Script, scriptSchema } from '../../sim/script.ts';
import { parseSettings } from '../../src/config/settings.ts';
import { camera } from './program.ts';

/** A seed, or the file of a script. */
export type PartyName = number | string;

export interface Report extends PartyResult {
  name: PartyName;
}

/** Throws a `Fault` for a file that is no script. */
export const partyOf = (name: PartyName): Script =>
  typeof name === 'number' ? drawParty(name) : parseSettings(readFileSync(name, 'utf8'), scriptSchema, name, 'script');

parentPort?.on('message', (names: PartyName[]) => {
  parentPort?.postMessage(names.map((name): Report => ({ name, ...runParty(partyOf(name), camera) })));
});
