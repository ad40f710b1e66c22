import { Worker } from 'node:worker_threads';
import type { SampleExtent, WindowBytes, WindowColumns, WindowQuery } from '../monitor/ports.ts';
import { Problem, type ProblemParts } from '../problem/problem.ts';
import type { ColumnReader, DamageListener, TailOf } from './sample-reader.ts';
import type { LiveTail } from './samples/sample-appender.ts';
import type { SampleColumns } from './samples/sample-queries.ts';

type Question =
  | { what: 'window'; query: WindowQuery; tail: LiveTail | null }
  | { what: 'windowBytes'; query: WindowQuery; pack: boolean; tail: LiveTail | null }
  | { what: 'piece'; runId: number; first: number; count: number; channels: readonly string[] }
  | { what: 'extent'; runId: number; tail: LiveTail | null }
  | {
      what: 'readings';
      runId: number;
      fromGaugeMm: number;
      toGaugeMm: number;
      channels: readonly string[];
      tail: LiveTail | null;
    };
export type WorkerQuestion = Question & { id: number };

export type WorkerAnswer =
  | { id: number; result: unknown }
  | { id: number; message: string; problem: ProblemParts | null }
  | { damage: Parameters<DamageListener>[0] };

interface Waiting {
  resolve: (result: never) => void;
  reject: (thrown: Error) => void;
}

/** Where the worker's code lies: beside this file, once it is built. Node 20 runs no TypeScript in a worker. */
const WORKER = import.meta.url.endsWith('.ts') ? null : new URL('./reader-worker.js', import.meta.url);

export const canUseThread = WORKER !== null;

/**
 * A reader on a thread of its own, so that no query delays a reading or an alarm. What is not on disk yet travels with
 * the question. A thread that dies takes its open questions with it (they reject); the next question starts a new one.
 */
export function threadReader(folder: string, tailOf: TailOf, damaged: DamageListener): ColumnReader {
  const waiting = new Map<number, Waiting>();
  let worker: Worker | null = null;
  let lastId = 0;
  let closed = false;

  const fail = (died: Worker, thrown: Error): void => {
    // It tells that it failed, then that it ended: by then another may be at work on what was asked since.
    if (worker !== died) return;
    worker = null;
    for (const { reject } of waiting.values()) reject(thrown);
    waiting.clear();
  };
  const start = (): Worker => {
    const started = new Worker(WORKER!, { workerData: { folder } });
    started.unref();
    started.on('message', (answer: WorkerAnswer) => {
      if ('damage' in answer) {
        damaged(answer.damage);
        return;
      }
      const asked = waiting.get(answer.id);
      waiting.delete(answer.id);
      if (waiting.size === 0) started.unref();
      if ('result' in answer) asked?.resolve(answer.result as never);
      else asked?.reject(thrownOf(answer));
    });
    started.on('error', (thrown) => fail(started, thrown));
    started.on('exit', () => fail(started, new Error('The reader thread ended.')));
    return started;
  };
  const ask = <T>(question: Question): Promise<T> =>
    new Promise((resolve, reject) => {
      if (closed) {
        reject(new Error('The store is closed.'));
        return;
      }
      worker ??= start();
      const id = ++lastId;
      waiting.set(id, { resolve, reject });
      worker.ref();
      worker.postMessage({ ...question, id });
    });

  return {
    window: (query) => ask<WindowColumns>({ what: 'window', query, tail: tailOf(query.runId) }),
    windowBytes: (query, pack) => ask<WindowBytes>({ what: 'windowBytes', query, pack, tail: tailOf(query.runId) }),
    extent: (runId) => ask<SampleExtent | null>({ what: 'extent', runId, tail: tailOf(runId) }),
    readings: (runId, fromGaugeMm, toGaugeMm, channels) =>
      ask<SampleColumns>({ what: 'readings', runId, fromGaugeMm, toGaugeMm, channels, tail: tailOf(runId) }),
    piece: (runId, first, count, channels) => ask<SampleColumns>({ what: 'piece', runId, first, count, channels }),
    close: () => {
      closed = true;
      const open = worker;
      if (!open) return Promise.resolve();
      open.ref();
      return new Promise((resolve) => {
        open.once('exit', () => resolve());
        open.postMessage('close');
      });
    },
  };
}

function thrownOf({ message, problem }: { message: string; problem: ProblemParts | null }) {
  return problem ? Problem.of(problem) : new Error(message);
}
