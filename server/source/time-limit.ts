/**
 * Waits for something that may hang, such as a driver or a network drive, but not for ever.
 * @param late called with what comes after the limit, to release it
 * @throws Error whose message is the end of a sentence, after the limit
 */
export async function waitAtMost<T>(limitMs: number, waiting: Promise<T>, late: (value: T) => void): Promise<T> {
  let timer: NodeJS.Timeout | undefined;
  let over = false;
  waiting.then(
    (value) => {
      if (over) late(value);
    },
    () => {},
  );
  const limit = new Promise<never>((_, reject) => {
    timer = setTimeout(() => {
      over = true;
      reject(new Error(`it did not answer within ${limitMs / 1000} s`));
    }, limitMs);
  });
  try {
    return await Promise.race([waiting, limit]);
  } finally {
    clearTimeout(timer);
  }
}

/** Longest wait for a source to open. */
export const OPEN_WITHIN_MS = 15_000;
/** Longest wait for a source to stop; it is then given up. */
const STOP_WITHIN_MS = 5000;

/**
 * Waits for the end of a stopped source. One that hangs is given up, so that the service can stop or use another.
 * @throws Error if it was given up
 */
export async function endOf(running: Promise<void> | null): Promise<void> {
  if (running === null) return;
  try {
    await waitAtMost(STOP_WITHIN_MS, running, () => {});
  } catch (thrown) {
    throw new Error('It was given up and may still hold its port or file.', { cause: thrown });
  }
}
