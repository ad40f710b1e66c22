import { type IncomingHttpHeaders, request } from 'node:http';
import { request as secureRequest } from 'node:https';

export interface Question {
  readonly method: 'GET' | 'POST';
  readonly headers: Readonly<Record<string, string>>;
  readonly body?: string | Uint8Array;
  readonly signal: AbortSignal;
}

/** The head of an answer. */
export interface Answer {
  readonly status: number;
  readonly headers: IncomingHttpHeaders;
}

/** The rest of an answer is read only to end the connection in good order. */
const REST_BYTES_MAX = 64 * 1024;
const REST_MAX_MS = 5000;
const REDIRECTS_MAX = 5;

/**
 * A request to an outside service over a separate connection; redirects are not followed. (`fetch` would do, but takes 9 MB
 * of memory from its first call on.)
 * @throws Error whose code says why it cannot be reached
 */
export function ask(url: URL, { body, ...options }: Question): Promise<Answer> {
  const send = url.protocol === 'https:' ? secureRequest : request;
  return new Promise((resolve, reject) => {
    const asked = send(url, { ...options, agent: false }, (answer) => {
      const tooLong = setTimeout(() => answer.destroy(), REST_MAX_MS).unref();
      let bytes = 0;
      answer.on('data', (chunk: Buffer) => {
        bytes += chunk.length;
        if (bytes > REST_BYTES_MAX) answer.destroy();
      });
      // Its head has been read, so nothing is missing.
      answer.on('error', () => {});
      answer.once('close', () => clearTimeout(tooLong));
      resolve({ status: answer.statusCode ?? 0, headers: answer.headers });
    });
    asked.on('error', reject);
    asked.end(body);
  });
}

/** The same, and follows redirects. */
export async function askFollowing(url: URL, question: Question): Promise<Answer> {
  let [at, answer] = [url, await ask(url, question)];
  for (let i = 0; i < REDIRECTS_MAX; i++) {
    const { location } = answer.headers;
    if (answer.status < 300 || answer.status >= 400 || location === undefined) break;
    at = new URL(location, at);
    answer = await ask(at, question);
  }
  return answer;
}

export const isSuccess = ({ status }: Answer): boolean => status >= 200 && status < 300;
