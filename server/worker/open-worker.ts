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
   * @param handOver buffers that go over rather than being copied: the caller cannot use them again
   * @throws whatever the function throws; Error where the worker ends before it answers
   */
  call<Name extends keyof F & string>(
    name: Name,
    given: Parameters<F[Name]>,
    handOver?: readonly ArrayBuffer[],
  ): Promise<ResultOf<ReturnType<F[Name]>>>;
  /** It died, or was closed: it answers nothing more. */
  readonly ended: boolean;
  /** Lets it finish the function that it is in. Resolves once its thread is over and its files are closed. */
  close(): Promise<void>;
  /** Ends it in the middle of whatever it does. */
  terminate(): Promise<void>;
}

export interface WorkerToOpen<F, Start, Notice> {
  /** In an error: `The worker that … ended.` */
  readonly that: string;
  /** Its built code; null = answer on the caller's own thread. */
  readonly code: URL | null;
  readonly create: CreateFunctions<F, Start, Notice>;
  readonly start: Start;
  readonly notify?: (notice: Notice) => void;
}

/**
 * Where a worker's code lies: beside the file that opens it, once that is built. Node 20 runs no TypeScript in a worker.
 * @param here `import.meta.url` of the file that opens it
 */
export function workerCode(here: string, name: string): URL | null {
  return here.endsWith('.ts') ? null : new URL(`./${name}.js`, here);
}

/** Opens a worker thread for what takes long, so that it delays no reading and no alarm. */
export function openWorker<F extends WorkerFunctions<F>, Start, Notice = never>(
  options: WorkerToOpen<F, Start, Notice>,
): OpenWorker<F> {
  return options.code === null ? onThisThread(options) : onItsThread(options, options.code);
}

function onItsThread<F extends WorkerFunctions<F>, Start, Notice>(
  { that, start, notify }: WorkerToOpen<F, Start, Notice>,
  code: URL,
): OpenWorker<F> {
  const waiting = new Map<number, { resolve(result: unknown): void; reject(thrown: Error): void }>();
  const worker = new Worker(code, { workerData: start });
  let ended = false;
  let lastId = 0;
  const over = new Promise<void>((resolve) => {
    worker.once('exit', () => resolve());
  });
  const end = (thrown: Error): void => {
    ended = true;
    for (const { reject } of waiting.values()) reject(thrown);
    waiting.clear();
  };
  worker.on('error', end);
  worker.on('exit', () => end(new Error(`The worker that ${that} ended.`)));
  worker.on('message', (message: FromWorker) => {
    if ('notice' in message) {
      notify?.(message.notice as Notice);
      return;
    }
    const asked = waiting.get(message.id);
    waiting.delete(message.id);
    if (waiting.size === 0) worker.unref();
    if ('failed' in message) asked?.reject(thrownOf(message.failed));
    else asked?.resolve(message.result);
  });
  // Only an open question keeps the process alive.
  worker.unref();

  return {
    get ended() {
      return ended;
    },
    call: (name, given, handOver = []) =>
      new Promise<never>((resolve, reject) => {
        if (ended) {
          reject(new Error(`The worker that ${that} ended.`));
          return;
        }
        const id = ++lastId;
        waiting.set(id, { resolve: resolve as (result: unknown) => void, reject });
        worker.ref();
        const message: ToWorker = { id, name, given };
        worker.postMessage(message, handOver);
      }),
    close() {
      if (!ended) {
        worker.ref();
        worker.postMessage('close' satisfies ToWorker);
      }
      return over;
    },
    async terminate() {
      await worker.terminate();
    },
  };
}

function onThisThread<F extends WorkerFunctions<F>, Start, Notice>({
  that,
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
    async call(name, given) {
      if (ended) throw new Error(`The worker that ${that} ended.`);
      const result: unknown = await functions[name](...given);
      return (result instanceof HandedOver ? result.result : result) as never;
    },
    close,
    terminate: close,
  };
}
