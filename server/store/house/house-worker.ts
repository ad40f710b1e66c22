import { parentPort, workerData } from 'node:worker_threads';
import { checkFile } from './check-file.ts';
import type { HouseOrder } from './house-thread.ts';
import { prepareArchive } from './read-archive.ts';
import { writeArchive } from './write-archive.ts';

/** Does one thing that reads much, on a thread of its own. */
const order = workerData as HouseOrder;
parentPort!.postMessage(done(order));

function done(asked: HouseOrder): unknown {
  if (asked.what === 'check') return checkFile(asked.path);
  if (asked.what === 'prepare') return prepareArchive(asked.path);
  return writeArchive(asked.path, asked.runId, asked.target);
}
