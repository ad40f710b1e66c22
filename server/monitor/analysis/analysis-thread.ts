import { Worker } from 'node:worker_threads';
import { Problem, type ProblemParts } from '../../problem/problem.ts';
import { answerTo, type Question } from './questions.ts';
import { SpoolAnalysis } from './spool-analysis.ts';
import type { SpoolColumns } from './spool-columns.ts';

export type ToWorker =
  | { readonly columns: SpoolColumns; readonly more: boolean }
  | { readonly id: number; readonly question: Question };

export type WorkerAnswer =
  | { readonly id: number; readonly result: unknown }
  | {
      readonly id: number;
      readonly message: string;
      readonly problem: ProblemParts | null;
    };

/** Where spools are judged. Questions are about the readings that were given last. */
export interface AnalysisRoom {
  /**
   * The columns are handed over: whoever gives them cannot use them again.
   * @param more they lie behind those that were given last, of the same spool
   */
  give(columns: SpoolColumns, more: boolean): void;
  ask(question: Question): Promise<unknown>;
  /** Whether the readings that were given last are still there. */
  readonly holds: boolean;
  stop(): Promise<void>;
}

/** Where the worker's code lies: beside this file, once it is built. Node 20 runs no TypeScript in a worker. */
const WORKER = import.meta.url.endsWith('.ts') ? null : new URL('./analysis-worker.js', import.meta.url);

/** A night's readings take some 100 MB: given back when nobody asks any more. */
const IDLE_MS = 60_000;

export function analysisRoom(): AnalysisRoom {
  return WORKER === null ? sameThreadRoom() : threadRoom(WORKER);
}

/**
 * Judging a night takes half a second: on a thread of its own it delays no reading and no alarm. A thread that dies takes
 * its open questions with it (they reject); the next question starts a new one.
 */
function threadRoom(code: URL): AnalysisRoom {
  const waiting = new Map<number, { resolve(result: unknown): void; reject(thrown: Error): void }>();
  let worker: Worker | null = null;
  let holds = false;
  let lastId = 0;
  let idle: NodeJS.Timeout | null = null;

  const end = async (): Promise<void> => {
    const ending = worker;
    worker = null;
    holds = false;
    await ending?.terminate();
  };
  const drop = (thrown: Error): void => {
    for (const { reject } of waiting.values()) reject(thrown);
    waiting.clear();
  };
  const fail = (died: Worker, thrown: Error): void => {
    // One that was ended on purpose says so late, when another may be at work already.
    if (worker !== died) return;
    worker = null;
    holds = false;
    drop(thrown);
  };
  const restIfIdle = (): void => {
    if (idle !== null) clearTimeout(idle);
    idle = null;
    if (waiting.size > 0 || worker === null) return;
    worker.unref();
    idle = setTimeout(() => void end(), IDLE_MS);
    idle.unref();
  };
  const start = (): Worker => {
    const started = new Worker(code);
    started.on('message', (answer: WorkerAnswer) => {
      const asked = waiting.get(answer.id);
      waiting.delete(answer.id);
      restIfIdle();
      if ('result' in answer) asked?.resolve(answer.result);
      else asked?.reject(thrownOf(answer));
    });
    started.on('error', (thrown) => fail(started, thrown));
    started.on('exit', () => fail(started, new Error('The thread that judges spools ended.')));
    return started;
  };

  return {
    get holds() {
      return holds;
    },
    give(columns, more) {
      worker ??= start();
      const { timeMs, gaugeMm, diameterMm, axesMm } = columns;
      const arrays = [timeMs, gaugeMm, diameterMm, ...(axesMm === null ? [] : [axesMm.x, axesMm.y])];
      const message: ToWorker = { columns, more };
      worker.postMessage(message, [...new Set(arrays.map(({ buffer }) => buffer as ArrayBuffer))]);
      holds = true;
      restIfIdle();
    },
    ask: (question) =>
      new Promise((resolve, reject) => {
        if (worker === null) {
          reject(new TypeError('A question came before the readings that it is about.'));
          return;
        }
        if (idle !== null) clearTimeout(idle);
        const id = ++lastId;
        waiting.set(id, { resolve, reject });
        worker.ref();
        const message: ToWorker = { id, question };
        worker.postMessage(message);
      }),
    stop: async () => {
      if (idle !== null) clearTimeout(idle);
      drop(new Error('The service is stopping.'));
      await end();
    },
  };
}

function sameThreadRoom(): AnalysisRoom {
  let analysis: SpoolAnalysis | null = null;
  return {
    get holds() {
      return analysis !== null;
    },
    give(columns, more) {
      if (more && analysis !== null) analysis.add(columns);
      else analysis = new SpoolAnalysis(columns);
    },
    async ask(question) {
      if (analysis === null) throw new TypeError('A question came before the readings that it is about.');
      return answerTo(analysis, question);
    },
    async stop() {
      analysis = null;
    },
  };
}

function thrownOf(answer: Extract<WorkerAnswer, { message: string }>): Error {
  const { message, problem } = answer;
  return problem === null ? new Error(message) : Problem.of(problem);
}
