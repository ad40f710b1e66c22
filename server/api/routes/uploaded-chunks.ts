import type { Readable } from 'node:stream';
import { Problem } from '../../problem/problem.ts';

/** A phone that leaves the Wi-Fi closes nothing, so an upload without a byte for this long has failed. */
const SILENCE_MS_MAX = 30_000;

/**
 * Passes on the chunks of an upload, and ends one that stalls so that the next can start. Only time spent waiting for the
 * client counts.
 * @throws Problem `upload-stalled`
 */
export async function* uploadedChunks(body: Readable, silenceMsMax = SILENCE_MS_MAX): AsyncGenerator<Buffer> {
  const stalled = new Problem(
    'upload-stalled',
    `The upload stopped before its end: nothing arrived for ${silenceMsMax / 1000} s.`,
    'Check the connection, then send it again.',
  );
  const wait = () => setTimeout(() => body.destroy(stalled), silenceMsMax);
  let waiting = wait();
  try {
    for await (const chunk of body) {
      clearTimeout(waiting);
      yield chunk;
      waiting = wait();
    }
  } finally {
    clearTimeout(waiting);
  }
}
