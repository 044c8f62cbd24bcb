import { parentPort } from 'node:worker_threads';
import { perform, type Task } from './task.ts';

parentPort?.on('message', async (task: Task) => parentPort?.postMessage(await perform(task)));
