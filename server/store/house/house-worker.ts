import { parentPort, workerData } from 'node:worker_threads';
import { checkFile } from './check-file.ts';
import type { HouseOrder } from './house-thread.ts';
import { writeArchive } from './write-archive.ts';

/** Does one thing that reads much, on a thread of its own. */
const order = workerData as HouseOrder;
parentPort!.postMessage(
  order.what === 'check' ? checkFile(order.path) : writeArchive(order.path, order.runId, order.target),
);
