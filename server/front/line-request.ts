import { request } from 'node:http';
import { request as secureRequest } from 'node:https';
import { Problem } from '../problem/problem.ts';
import { failure } from './line-feed.ts';

/** Hundreds of coils. */
const ANSWER_BYTES_MAX = 2_000_000;

export interface LineRequest {
  readonly method: 'GET' | 'POST' | 'PUT';
  readonly url: URL;
  readonly token: string;
  /** Sent as JSON. */
  readonly body?: object;
  /** Who asks; null = the service itself. */
  readonly who: string | null;
  readonly withinMs: number;
  /** What to do if the line cannot be asked. */
  readonly instead: string;
  /** Authorities that are trusted; undefined = the usual ones. */
  readonly authorities: string[] | undefined;
}

export interface LineAnswer {
  readonly status: number;
  readonly text: string;
}

/** Asks another line once. @throws Problem `line-failed` if it cannot be reached, takes too long, or answers far too much */
export function requestLine(asked: LineRequest): Promise<LineAnswer> {
  const { method, url, token, who, withinMs, authorities } = asked;
  const send = url.protocol === 'https:' ? secureRequest : request;
  const failed = (why: string, cause?: unknown) => new Problem('line-failed', why, asked.instead, { cause });
  const options = {
    method,
    agent: false,
    signal: AbortSignal.timeout(withinMs),
    headers: {
      authorization: `Bearer ${token}`,
      ...(who === null ? {} : { 'strandward-by': encodeURIComponent(who) }),
      ...(asked.body === undefined ? {} : { 'content-type': 'application/json' }),
    },
    ...(authorities === undefined ? {} : { ca: authorities }),
  } as const;
  return new Promise((resolve, reject) => {
    const lose = (thrown: Error) => {
      const timedOut = thrown.name === 'AbortError' || thrown.name === 'TimeoutError';
      reject(failed(timedOut ? `${url.host} does not answer in time.` : failure(url.host, thrown), thrown));
    };
    const sent = send(url, options, (answer) => {
      const parts: Buffer[] = [];
      let bytes = 0;
      answer.on('error', lose);
      answer.on('data', (part: Buffer) => {
        bytes += part.length;
        parts.push(part);
        if (bytes <= ANSWER_BYTES_MAX) return;
        reject(failed(`${url.host} sends far more data than a line does.`));
        answer.destroy();
      });
      answer.on('end', () => resolve({ status: answer.statusCode ?? 0, text: Buffer.concat(parts).toString() }));
    });
    sent.on('error', lose);
    sent.end(asked.body === undefined ? undefined : JSON.stringify(asked.body));
  });
}
