import type { IncomingMessage } from 'node:http';
import { PassThrough, type Readable } from 'node:stream';
import { Problem } from '../problem/problem.ts';

/** The least that has to arrive in a window. A phone on weak Wi-Fi sends several times as much. */
const BYTES_MIN = 4096;
const WINDOW_MS = 30_000;

/**
 * Passes on the body of a request, and gives up one that stalls or trickles, so that it holds no connection and blocks no
 * other upload. A phone that leaves the Wi-Fi closes nothing. A window in which this side was slow does not count.
 *
 * The returned stream fails with Problem `upload-stalled`. The request itself is left open for the answer.
 */
export function arrivingBody(request: Readable, windowMs = WINDOW_MS): Readable {
  const body = new PassThrough();
  // Whoever reads it hears of the error. Of a request that was refused before no one does, and the error would end the process.
  body.on('error', () => {});
  let arrived = 0;
  let wasFull = false;
  const watch = setInterval(() => {
    if (arrived < BYTES_MIN && !wasFull) {
      body.destroy(
        new Problem(
          'upload-stalled',
          `The upload stopped before its end: in ${windowMs / 1000} s, less than ${BYTES_MIN} bytes arrived.`,
          'Check the connection, then send it again.',
        ),
      );
    }
    arrived = 0;
    wasFull = body.writableNeedDrain;
  }, windowMs);
  request.on('data', (chunk: Buffer) => {
    arrived += chunk.length;
    wasFull ||= body.writableNeedDrain;
  });
  const stop = () => clearInterval(watch);
  request.once('close', () => {
    stop();
    if (!request.readableEnded) body.destroy(new Error('The caller closed the connection before the end of the body'));
  });
  body.once('close', stop);
  request.once('end', stop);
  // An empty body has already ended, and no event follows.
  if (request.readableEnded) stop();
  return request.pipe(body);
}

/** Closing at once, with bytes on their way, would make the caller's system throw the answer away. */
const LINGER_MS = 1000;

/**
 * To be called once the answer was sent. Nobody reads the rest of a body that was refused, so without this it would stay in
 * memory, and its connection open.
 */
export function dropRest(request: IncomingMessage, lingerMs = LINGER_MS): void {
  if (request.readableEnded) return;
  request.unpipe();
  request.resume();
  if (request.complete) return;
  const timer = setTimeout(() => request.destroy(), lingerMs);
  request.once('close', () => clearTimeout(timer));
}
