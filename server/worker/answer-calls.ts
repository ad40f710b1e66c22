import { parentPort, workerData } from 'node:worker_threads';
import {
  type CreateFunctions,
  type FromWorker,
  failureOf,
  HandedOver,
  type ToWorker,
  type WorkerFunctions,
} from './calls.ts';

/** To be called by the code of a worker: answers the calls of the thread that opened it until that thread closes it. */
export function answerCalls<F extends WorkerFunctions<F>, Start, Notice>(
  create: CreateFunctions<F, Start, Notice>,
): void {
  if (parentPort === null) throw new TypeError('answerCalls must run on a worker thread.');
  const port = parentPort;
  const send = (message: FromWorker, handOver: readonly ArrayBuffer[] = []) => port.postMessage(message, handOver);
  const functions = create(workerData as Start, (notice) => send({ notice }));

  const answer = async ({ id, name, args }: Exclude<ToWorker, 'close'>): Promise<void> => {
    try {
      const result: unknown = await functions[name as keyof F](...args);
      if (result instanceof HandedOver) send({ id, result: result.result }, result.buffers);
      else send({ id, result });
    } catch (thrown) {
      send({ id, failed: failureOf(thrown) });
    }
  };

  port.on('message', (message: ToWorker) => {
    if (message === 'close') {
      (functions as { close?(): void }).close?.();
      port.close();
    } else void answer(message);
  });
}
