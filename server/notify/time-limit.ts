export interface TimeLimit {
  /** Aborted after the time, or together with `stop`. */
  readonly signal: AbortSignal;
  /** To be called when the signal is no longer needed. */
  end(): void;
}

/**
 * A timeout and `stop` in one. `AbortSignal.any` is not used: in Node 20 the timeout given to it may be collected as garbage
 * before it fires, and what it returns is kept for as long as `stop` exists.
 */
export function timeLimit(ms: number, stop: AbortSignal | null): TimeLimit {
  const controller = new AbortController();
  const abort = () => controller.abort();
  const timer = setTimeout(abort, ms);
  stop?.addEventListener('abort', abort);
  if (stop?.aborted) abort();
  return {
    signal: controller.signal,
    end() {
      clearTimeout(timer);
      stop?.removeEventListener('abort', abort);
    },
  };
}

/** What a promise resolves to; null = it takes longer than `ms`. */
export async function inTime<T>(promise: Promise<T>, ms: number): Promise<T | null> {
  let timer: NodeJS.Timeout | undefined;
  const timeout = new Promise<null>((resolve) => {
    timer = setTimeout(() => resolve(null), ms);
  });
  try {
    return await Promise.race([promise, timeout]);
  } finally {
    clearTimeout(timer);
  }
}
