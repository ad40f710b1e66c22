import { Worker } from 'node:worker_threads';
import { messageOf, Problem } from '../problem/problem.ts';
import {
  type CreateFunctions,
  type FromWorker,
  HandedOver,
  type ResultOf,
  type ToWorker,
  thrownOf,
  type WorkerFunctions,
} from './calls.ts';

export interface OpenWorker<F extends WorkerFunctions<F>> {
  /**
   * @param handOver buffers that are transferred instead of copied; the caller cannot use them afterwards
   * @throws whatever the function throws; Error if the worker ends before it answers
   */
  call<Name extends keyof F & string>(
    name: Name,
    args: Parameters<F[Name]>,
    handOver?: readonly ArrayBuffer[],
  ): Promise<ResultOf<ReturnType<F[Name]>>>;
  /** It has ended or was closed, and answers no more calls. */
  readonly ended: boolean;
  /** Lets the current function finish. Resolves when the thread has ended and its files are closed, or is stuck. */
  close(): Promise<void>;
  /** Ends it at once, in the middle of a function if need be. Resolves when it has ended, or is stuck. */
  terminate(): Promise<void>;
}

export interface WorkerToOpen<F, Start, Notice> {
  /** What it does, for the error `The worker that … ended.` */
  readonly task: string;
  /** Its built code; null = run the functions on the caller's thread. */
  readonly code: URL | null;
  readonly create: CreateFunctions<F, Start, Notice>;
  readonly start: Start;
  readonly notify?: (notice: Notice) => void;
  /** A thread that has nothing left to do and takes longer to end is stuck. */
  readonly endsWithinMs?: number;
}

/** Much longer than a thread takes on a busy machine; an orderly stop has ten seconds for all of them. */
const ENDS_WITHIN_MS = 3000;
let stuckThreads = 0;

/**
 * Whether a thread did not end when it should have: the engine can deadlock while a thread ends (nodejs/node#54918). Then an ordinary
 * exit of the process waits for that thread for ever.
 */
export function hasStuckThread(): boolean {
  return stuckThreads > 0;
}

/** What the engine says if the machine denies it a thread, or a thread the memory that it needs. */
const SHORTAGES: readonly unknown[] = ['ERR_WORKER_INIT_FAILED', 'ERR_WORKER_OUT_OF_MEMORY'];

function explained(thrown: unknown): unknown {
  if (!(thrown instanceof Error && 'code' in thrown && SHORTAGES.includes(thrown.code))) return thrown;
  return new Problem(
    'machine-full',
    `The machine gives the service no more threads, open files or memory: ${messageOf(thrown)}.`,
    'Readings are still recorded. Try again later, close other programs, or raise the limits of the service.',
    { cause: thrown },
  );
}

function newThread(code: URL, workerData: unknown): Worker {
  try {
    return new Worker(code, { workerData });
  } catch (thrown) {
    throw explained(thrown);
  }
}

/**
 * The code of a worker, next to the built file that opens it; null = not built. Node 20 runs no TypeScript in a worker.
 * @param here `import.meta.url` of the file that opens it
 */
export function workerCode(here: string, name: string): URL | null {
  return here.endsWith('.ts') ? null : new URL(`./${name}.js`, here);
}

/**
 * Opens a worker thread for long tasks, so that they delay no reading and no alarm.
 * @throws Problem `machine-full`, also from a later call
 */
export function openWorker<F extends WorkerFunctions<F>, Start, Notice = never>(
  options: WorkerToOpen<F, Start, Notice>,
): OpenWorker<F> {
  return options.code === null ? onCallersThread(options) : onOwnThread(options, options.code);
}

function onOwnThread<F extends WorkerFunctions<F>, Start, Notice>(
  { task, start, notify, endsWithinMs = ENDS_WITHIN_MS }: WorkerToOpen<F, Start, Notice>,
  code: URL,
): OpenWorker<F> {
  const waiting = new Map<number, { resolve(result: unknown): void; reject(thrown: unknown): void }>();
  const worker = newThread(code, start);
  let ended = false;
  let lastId = 0;
  let isClosing = false;
  let isGone = false;
  let limit: NodeJS.Timeout | undefined;
  let leave = () => {};
  const gone = new Promise<void>((resolve) => {
    leave = resolve;
  });
  const end = (thrown: unknown): void => {
    ended = true;
    for (const { reject } of waiting.values()) reject(thrown);
    waiting.clear();
  };
  const endsSoon = (): void => {
    if (isGone) return;
    limit ??= setTimeout(() => {
      stuckThreads += 1;
      process.emitWarning(`The worker that ${task} is stuck: it has not ended within ${endsWithinMs / 1000} s.`);
      worker.unref();
      end(new Error(`The worker that ${task} is stuck.`));
      leave();
    }, endsWithinMs);
  };
  worker.on('error', (thrown) => end(explained(thrown)));
  worker.on('exit', () => {
    isGone = true;
    clearTimeout(limit);
    end(new Error(`The worker that ${task} ended.`));
    leave();
  });
  worker.on('message', (message: FromWorker) => {
    if ('notice' in message) {
      notify?.(message.notice as Notice);
      return;
    }
    const call = waiting.get(message.id);
    waiting.delete(message.id);
    if (waiting.size === 0) {
      worker.unref();
      if (isClosing) endsSoon();
    }
    if ('failed' in message) call?.reject(thrownOf(message.failed));
    else call?.resolve(message.result);
  });
  // Only an open call keeps the process alive.
  worker.unref();

  return {
    get ended() {
      return ended;
    },
    call: (name, args, handOver = []) =>
      new Promise<never>((resolve, reject) => {
        if (ended) {
          reject(new Error(`The worker that ${task} ended.`));
          return;
        }
        const id = ++lastId;
        waiting.set(id, { resolve: resolve as (result: unknown) => void, reject });
        worker.ref();
        const message: ToWorker = { id, name, args };
        worker.postMessage(message, handOver);
      }),
    close() {
      if (!ended) {
        isClosing = true;
        worker.ref();
        worker.postMessage('close' satisfies ToWorker);
        if (waiting.size === 0) endsSoon();
      }
      return gone;
    },
    terminate() {
      void worker.terminate();
      endsSoon();
      return gone;
    },
  };
}

function onCallersThread<F extends WorkerFunctions<F>, Start, Notice>({
  task,
  create,
  start,
  notify,
}: WorkerToOpen<F, Start, Notice>): OpenWorker<F> {
  const functions = create(start, (notice) => notify?.(notice));
  let ended = false;
  const close = async (): Promise<void> => {
    if (!ended) (functions as { close?(): void }).close?.();
    ended = true;
  };
  return {
    get ended() {
      return ended;
    },
    async call(name, args) {
      if (ended) throw new Error(`The worker that ${task} ended.`);
      const result: unknown = await functions[name](...args);
      return (result instanceof HandedOver ? result.result : result) as never;
    },
    close,
    terminate: close,
  };
}
