import { once } from 'node:events';
import { expect, it } from 'vitest';
import { hasStuckThread, openWorker } from '../../server/worker/open-worker.ts';

/** Answers calls; when it is to end, its thread is busy outside the engine for a while, so that nothing can end it. */
const STUCK = `
import { execFileSync } from 'node:child_process';
import { parentPort } from 'node:worker_threads';
parentPort.on('message', (message) => {
  if (message === 'close') execFileSync('sleep', ['1']);
  else parentPort.postMessage({ id: message.id, result: message.args[0] + 1 });
});
`;

it('gives up a thread that does not end, and says so', async () => {
  expect(hasStuckThread()).toBe(false);
  const worker = openWorker<{ next(n: number): number }, null>({
    task: 'counts',
    code: new URL(`data:text/javascript,${encodeURIComponent(STUCK)}`),
    create: () => ({ next: (n) => n + 1 }),
    start: null,
    endsWithinMs: 50,
  });
  // A thread that works may take its time.
  expect(await worker.call('next', [1])).toBe(2);
  const warned = once(process, 'warning');
  await worker.close();
  expect(String((await warned)[0])).toContain('The worker that counts is stuck');
  expect(hasStuckThread()).toBe(true);
  await expect(worker.call('next', [1])).rejects.toThrow('The worker that counts');
});
