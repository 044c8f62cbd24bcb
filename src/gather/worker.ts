import { parentPort } from 'node:worker_threads';
import { gatherTask, type ScanTask } from './task.ts';

parentPort?.on('message', (task: ScanTask) => parentPort?.postMessage(gatherTask(task)));
