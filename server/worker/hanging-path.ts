import { constants } from 'node:fs';
import { access, type FileHandle, open } from 'node:fs/promises';
import { messageOf } from '../problem/problem.ts';
import { waitAtMost } from './wait-at-most.ts';

/** A drive that sleeps needs some seconds. */
const ANSWERS_WITHIN_MS = 8000;
/** Half of the threads that Node has for files, names of hosts and compression: without any, no page is served and no message sent. */
const ASKED_AT_ONCE_MAX = 2;

const asked = new Map<string, Promise<void>>();
let asking = 0;
const waiting: (() => void)[] = [];

/** Waits for a thread. */
async function takeTurn(): Promise<void> {
  if (asking < ASKED_AT_ONCE_MAX) asking += 1;
  else await new Promise<void>((resolve) => waiting.push(resolve));
}

/** Passes the thread on. */
function endTurn(): void {
  const next = waiting.shift();
  if (next === undefined) asking -= 1;
  else next();
}

/**
 * To be called before anything else touches a path that may be on a network drive: one whose server is off hangs whoever uses
 * it, for hours, and would stop the whole service. One call waits for it on another thread, and further ones for the same.
 * @throws Error, the end of a sentence, if it does not answer
 */
export async function requireAnswer(path: string, withinMs = ANSWERS_WITHIN_MS): Promise<void> {
  const ask = () => {
    const answer = takeTurn()
      .then(() => access(path))
      // A path that does not exist answers too.
      .catch(() => {})
      .finally(() => {
        asked.delete(path);
        endTurn();
      });
    asked.set(path, answer);
    return answer;
  };
  try {
    await waitAtMost(withinMs, asked.get(path) ?? ask(), () => {});
  } catch (thrown) {
    throw new Error(`${messageOf(thrown)}; is it on a network drive that is off?`, { cause: thrown });
  }
}

export const NO_FILE = 'it is not a regular file';

/** Opens a file to read it, without waiting for a writer if a pipe is in its place. @throws Error */
export async function openRegular(path: string): Promise<FileHandle> {
  const handle = await open(path, constants.O_RDONLY | constants.O_NONBLOCK);
  if ((await handle.stat()).isFile()) return handle;
  await handle.close();
  throw new Error(NO_FILE);
}
