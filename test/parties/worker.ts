import { parentPort } from 'node:worker_threads';
import { drawParty } from '../../sim/party.ts';
import { type PartyResult, runParty } from '../../sim/party-run.ts';
import { camera } from './program.ts';

export interface Report extends PartyResult {
  seed: number;
}

parentPort?.on('message', (seeds: number[]) => {
  parentPort?.postMessage(seeds.map((seed): Report => ({ seed, ...runParty(drawParty(seed), camera) })));
});
