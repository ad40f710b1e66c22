import { access } from 'node:fs/promises';

/** A drive that sleeps needs some seconds. */
const ANSWERS_WITHIN_MS = 8000;
const asked = new Map<string, Promise<void>>();

/**
 * To be called before anything else touches a path that may be on a network drive: one whose server is off hangs whoever uses
 * it, for hours, and would stop the whole service. One call waits for it on another thread, and further ones for the same.
 * @throws Error, the end of a sentence, if it does not answer
 */
export async function requireAnswer(path: string, withinMs = ANSWERS_WITHIN_MS): Promise<void> {
  const ask = () => {
    const answer = access(path)
      // A path that does not exist answers too.
      .catch(() => {})
      .finally(() => asked.delete(path));
    asked.set(path, answer);
    return answer;
  };
  let timer: NodeJS.Timeout | undefined;
  const limit = new Promise<never>((_, reject) => {
    const why = new Error(`it did not answer within ${withinMs / 1000} s; is it on a network drive that is off?`);
    timer = setTimeout(() => reject(why), withinMs);
  });
  try {
    await Promise.race([asked.get(path) ?? ask(), limit]);
  } finally {
    clearTimeout(timer);
  }
}
