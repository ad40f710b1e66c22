import { accessKey, keyWanted } from './access-key.ts';

/** What the service (or the way to it) answered instead of the thing asked for: what is wrong, and what to do. */
export class ServiceProblem extends Error {
  readonly status: number;
  readonly detail: string;

  constructor(status: number, title: string, detail: string) {
    super(title);
    this.name = 'ServiceProblem';
    this.status = status;
    this.detail = detail;
  }
}

type Method = 'GET' | 'POST' | 'PUT' | 'DELETE';

/**
 * Ask the service; the answer is its JSON, or undefined for an empty answer.
 * @throws ServiceProblem with a title and what to do; AbortError if `signal` was aborted
 */
export async function request<T>(method: Method, path: string, body?: unknown, signal?: AbortSignal): Promise<T> {
  const text = await (await ask(method, path, 'application/json', body, signal)).text();
  return (text === '' ? undefined : JSON.parse(text)) as T;
}

/**
 * Ask the service for an answer of a media type.
 * @throws ServiceProblem with a title and what to do; AbortError if `signal` was aborted
 */
export async function ask(
  method: Method,
  path: string,
  accept: string,
  body?: unknown,
  signal?: AbortSignal,
): Promise<Response> {
  const headers: Record<string, string> = { accept };
  if (accessKey.value !== '') headers.authorization = `Bearer ${accessKey.value}`;
  const init: RequestInit = { method, headers };
  if (signal) init.signal = signal;
  if (body !== undefined) {
    headers['content-type'] = 'application/json';
    init.body = JSON.stringify(body);
  }
  let response: Response;
  try {
    response = await fetch(path, init);
  } catch (thrown) {
    if (thrown instanceof DOMException && thrown.name === 'AbortError') throw thrown;
    throw new ServiceProblem(0, 'The service does not answer.', 'See that it runs and that this device reaches it.');
  }
  if (response.ok) return response;
  if (response.status === 401) keyWanted.value = true;
  throw problemOf(response.status, await response.text());
}

/** Reads problem details (RFC 9457); anything else becomes a problem that says so. */
export function problemOf(status: number, text: string): ServiceProblem {
  try {
    const given = JSON.parse(text) as { title?: unknown; detail?: unknown };
    if (typeof given.title === 'string') {
      return new ServiceProblem(status, given.title, typeof given.detail === 'string' ? given.detail : '');
    }
  } catch {
    // Not JSON: something between us and the service answered. Said below.
  }
  return new ServiceProblem(status, `The service answered with status ${status}.`, 'Try again; then look at its log.');
}

/** Any thrown thing as a problem to show. */
export function asProblem(thrown: unknown): ServiceProblem {
  if (thrown instanceof ServiceProblem) return thrown;
  return new ServiceProblem(0, thrown instanceof Error ? thrown.message : String(thrown), 'Load the page anew.');
}

export function isAbort(thrown: unknown): boolean {
  return thrown instanceof DOMException && thrown.name === 'AbortError';
}
