import { constants, readFileSync } from 'node:fs';
import { access, type FileHandle, open } from 'node:fs/promises';
import { resolve as absolute, join } from 'node:path';
import { Worker } from 'node:worker_threads';
import { messageOf } from '../problem/problem.ts';
import { waitAtMost } from './wait-at-most.ts';

/** A drive that sleeps needs some seconds. */
const ANSWERS_WITHIN_MS = 8000;
/** Half of the threads that Node has for files, names of hosts and compression: without any, no page is served and no message sent. */
const OF_NODES_THREADS_MAX = 2;
/** Beyond those each has its own thread, of 9 MB: a drive that answers must not wait for some that hang. */
const ASKED_AT_ONCE_MAX = 10;

/** By place. */
const asked = new Map<string, Promise<void>>();
let asking = 0;
let onNodesThreads = 0;
const waiting: (() => void)[] = [];

/** Whether a thread still uses a path. An exit would wait for it. */
export const isAsking = (): boolean => asked.size > 0;

/**
 * A path on the drive that is mounted there now, by the names of its folders: what hangs on that drive says nothing about another
 * that is mounted in its place. Links are not followed, because that may hang; reading the table of mounts does not.
 */
export function placeOf(path: string): string {
  const within = `${absolute(path)}/`;
  let drive = '';
  let longest = 0;
  // Of several at one place, the last hides the others.
  for (const line of mounts()) {
    const [id, , device, , at = ''] = line.split(' ');
    // A blank is written as its number.
    const point = at.replace(/\\(\d{3})/g, (_, octal: string) => String.fromCharCode(Number.parseInt(octal, 8)));
    if (point.length < longest || !within.startsWith(join(point, '/'))) continue;
    longest = point.length;
    drive = `${id} ${device}`;
  }
  return `${drive} ${path}`;
}

function mounts(): string[] {
  try {
    return readFileSync('/proc/self/mountinfo', 'utf8').split('\n');
  } catch {
    // Only Linux has it.
    return [];
  }
}

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

async function ask(path: string, place: string): Promise<void> {
  await takeTurn();
  try {
    if (onNodesThreads >= OF_NODES_THREADS_MAX) return await askOnOwnThread(path);
    onNodesThreads += 1;
    // A path that does not exist answers too.
    await access(path).catch(() => {});
    onNodesThreads -= 1;
  } finally {
    asked.delete(place);
    endTurn();
  }
}

function askOnOwnThread(path: string): Promise<void> {
  const code = "require('node:fs').existsSync(require('node:worker_threads').workerData)";
  const worker = new Worker(code, { eval: true, workerData: path });
  worker.unref();
  return new Promise((resolve, reject) => {
    // The machine may have no thread left: then it is not known whether the path hangs.
    worker.on('error', reject);
    worker.on('exit', () => resolve());
  });
}

/**
 * To be called before anything else touches a path that may be on a network drive: one whose server is off hangs whoever uses
 * it, for hours, and would stop the whole service. One call waits for it on another thread, and further ones for the same.
 * @throws Error, the end of a sentence, if it does not answer
 */
export async function requireAnswer(path: string, withinMs = ANSWERS_WITHIN_MS): Promise<void> {
  const place = placeOf(path);
  const answer = asked.get(place) ?? ask(path, place);
  asked.set(place, answer);
  try {
    await waitAtMost(withinMs, answer, () => {});
  } catch (thrown) {
    throw new Error(`${messageOf(thrown)}; is it on a network drive that is off?`, { cause: thrown });
  }
}

/** Waits for a path without which nothing works, however long it takes. @param late called once if it does not answer soon */
export async function awaitAnswer(path: string, late: (why: string) => void): Promise<void> {
  let hasAnswered = false;
  for (let isLate = false; !hasAnswered; isLate = true) {
    hasAnswered = await requireAnswer(path).then(
      () => true,
      (thrown: unknown) => {
        if (!isLate) late(messageOf(thrown));
        return false;
      },
    );
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
