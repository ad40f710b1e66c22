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
