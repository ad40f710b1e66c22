import type { Readable } from 'node:stream';
import { Problem } from '../../problem/problem.ts';

/** A phone that leaves the Wi-Fi says nothing: after so long without a byte it is taken to be gone. */
const SILENCE_MS_MAX = 30_000;

/**
 * A body as it comes in; one that stops coming is given up, so that the next may come. Only the time counts in which
 * this service waits.
 * @throws Problem `upload-stalled`
 */
export async function* comingIn(body: Readable, silenceMsMax = SILENCE_MS_MAX): AsyncGenerator<Buffer> {
  const gone = new Problem(
    'upload-stalled',
    `Nothing more came for ${silenceMsMax / 1000} s, though it was not at its end.`,
    'See that the connection is good, then send it again.',
  );
  const wait = () => setTimeout(() => body.destroy(gone), silenceMsMax);
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
