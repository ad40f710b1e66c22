import { Worker } from 'node:worker_threads';
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
  /** Lets the current function finish. Resolves when the thread has ended and its files are closed. */
  close(): Promise<void>;
  /** Ends it at once, in the middle of a function if need be. */
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
}

/**
 * The code of a worker, next to the built file that opens it; null = not built. Node 20 runs no TypeScript in a worker.
 * @param here `import.meta.url` of the file that opens it
 */
export function workerCode(here: string, name: string): URL | null {
  return here.endsWith('.ts') ? null : new URL(`./${name}.js`, here);
}

/** Opens a worker thread for long tasks, so that they delay no reading and no alarm. */
export function openWorker<F extends WorkerFunctions<F>, Start, Notice = never>(
  options: WorkerToOpen<F, Start, Notice>,
): OpenWorker<F> {
  return options.code === null ? onCallersThread(options) : onOwnThread(options, options.code);
}

function onOwnThread<F extends WorkerFunctions<F>, Start, Notice>(
  { task, start, notify }: WorkerToOpen<F, Start, Notice>,
  code: URL,
): OpenWorker<F> {
  const waiting = new Map<number, { resolve(result: unknown): void; reject(thrown: Error): void }>();
  const worker = new Worker(code, { workerData: start });
  let ended = false;
  let lastId = 0;
  const exited = new Promise<void>((resolve) => {
    worker.once('exit', () => resolve());
  });
  const end = (thrown: Error): void => {
    ended = true;
    for (const { reject } of waiting.values()) reject(thrown);
    waiting.clear();
  };
  worker.on('error', end);
  worker.on('exit', () => end(new Error(`The worker that ${task} ended.`)));
  worker.on('message', (message: FromWorker) => {
    if ('notice' in message) {
      notify?.(message.notice as Notice);
      return;
    }
    const call = waiting.get(message.id);
    waiting.delete(message.id);
    if (waiting.size === 0) worker.unref();
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
        worker.ref();
        worker.postMessage('close' satisfies ToWorker);
      }
      return exited;
    },
    async terminate() {
      await worker.terminate();
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
