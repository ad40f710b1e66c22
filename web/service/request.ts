import { accessKey, keyWanted } from './access-key.ts';
import { personHeader } from './person.ts';

/** What the service (or the way to it) answered instead of the thing asked for: what is wrong, and what to do. */
export class ServiceProblem extends Error {
  readonly status: number;
  readonly detail: string;
  /** null = the page itself says so, not the service. */
  readonly code: string | null;
  /** The field of the request that it is about, a JSON pointer (RFC 6901); null = about none. */
  readonly pointer: string | null;

  constructor(
    status: number,
    title: string,
    detail: string,
    { code = null, pointer = null }: { readonly code?: string | null; readonly pointer?: string | null } = {},
  ) {
    super(title);
    this.name = 'ServiceProblem';
    this.status = status;
    this.detail = detail;
    this.code = code;
    this.pointer = pointer;
  }
}

export type Method = 'GET' | 'POST' | 'PUT' | 'DELETE';

/**
 * Ask the service; the answer is its JSON, or undefined for an empty answer.
 * @throws ServiceProblem with a title and what to do; AbortError if `signal` was aborted by whoever gave it
 */
export async function request<T>(method: Method, path: string, body?: unknown, signal?: AbortSignal): Promise<T> {
  const text = await ask(method, path, 'application/json', (answer) => answer.text(), body, signal);
  return (text === '' ? undefined : JSON.parse(text)) as T;
}

/**
 * Ask the service for an answer of a media type. `body` is sent as JSON, a Blob as it is.
 * @param read takes the answer's body in; it may be cut off as the question may
 * @throws ServiceProblem with a title and what to do; AbortError if `signal` was aborted by whoever gave it
 */
export async function ask<T>(
  method: Method,
  path: string,
  accept: string,
  read: (answer: Response) => Promise<T>,
  body?: unknown,
  signal?: AbortSignal,
): Promise<T> {
  const headers: Record<string, string> = { accept, ...identity() };
  const init: RequestInit = { method, headers };
  if (signal) init.signal = signal;
  if (body instanceof Blob) {
    headers['content-type'] = body.type;
    init.body = body;
  } else if (body !== undefined) {
    headers['content-type'] = 'application/json';
    init.body = JSON.stringify(body);
  }
  let response: Response;
  let refusal: string;
  try {
    response = await fetch(path, init);
    if (response.ok) return await read(response);
    refusal = await response.text();
  } catch (thrown) {
    if (isAbort(thrown)) throw thrown;
    // Cut off, refused, or given up after its time (TimeoutError): from here it is all the same.
    throw new ServiceProblem(0, 'The service does not answer.', 'See that it runs and that this device reaches it.');
  }
  if (response.status === 401) keyWanted.value = true;
  throw problemOf(response.status, refusal);
}

/** What every request carries: the access key, and who makes it where a name was given on this device. */
export function identity(): Record<string, string> {
  const by = personHeader();
  return {
    ...(accessKey.peek() === '' ? {} : { authorization: `Bearer ${accessKey.peek()}` }),
    ...(by === '' ? {} : { 'strandward-by': by }),
  };
}

/** Reads problem details (RFC 9457); anything else becomes a problem that says so. */
export function problemOf(status: number, text: string): ServiceProblem {
  // The service tells programs how to send it; a person is asked for it.
  if (status === 401)
    return new ServiceProblem(status, 'This service asks for its access key.', 'Enter it where the page asks for it.');
  try {
    const given = JSON.parse(text) as Readonly<Record<'title' | 'detail' | 'code' | 'pointer', unknown>>;
    if (typeof given.title === 'string') {
      return new ServiceProblem(status, given.title, textOr('', given.detail), {
        code: textOr(null, given.code),
        pointer: textOr(null, given.pointer),
      });
    }
  } catch {
    // Not JSON: something between us and the service answered. Said below.
  }
  return new ServiceProblem(status, `The service answered with status ${status}.`, 'Try again; then look at its log.');
}

function textOr<Else>(otherwise: Else, value: unknown): string | Else {
  return typeof value === 'string' ? value : otherwise;
}

/** Any thrown thing as a problem to show. */
export function asProblem(thrown: unknown): ServiceProblem {
  if (thrown instanceof ServiceProblem) return thrown;
  return new ServiceProblem(0, thrown instanceof Error ? thrown.message : String(thrown), 'Load the page anew.');
}

export function isAbort(thrown: unknown): boolean {
  return thrown instanceof DOMException && thrown.name === 'AbortError';
}
