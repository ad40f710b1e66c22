import { parentPort, workerData } from 'node:worker_threads';
import { checkFile } from './check-file.ts';

/** Checks one database file on a thread of its own. */
parentPort!.postMessage(checkFile(workerData.path as string));
