import { parentPort, workerData } from 'node:worker_threads';
import {
  type CreateFunctions,
  type FromWorker,
  failureOf,
  HandedOver,
  type ToWorker,
  type WorkerFunctions,
} from './calls.ts';

/** What the code of a worker does: answers the calls of whoever opened it, until that one closes it. */
export function answerCalls<F extends WorkerFunctions<F>, Start, Notice>(
  create: CreateFunctions<F, Start, Notice>,
): void {
  const port = parentPort!;
  const send = (message: FromWorker, handOver: readonly ArrayBuffer[] = []) => port.postMessage(message, handOver);
  const functions = create(workerData as Start, (notice) => send({ notice }));

  const answer = async ({ id, name, given }: Exclude<ToWorker, 'close'>): Promise<void> => {
    try {
      const result: unknown = await functions[name as keyof F](...given);
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
