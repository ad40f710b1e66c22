import { personHeader } from './person.ts';
import { unpaired } from './session.ts';

/** Why a request failed: what is wrong, and what to do. */
export class ServiceProblem extends Error {
  readonly status: number;
  readonly detail: string;
  /** null = reported by the page itself, not by the service. */
  readonly code: string | null;
  /** JSON pointer (RFC 6901) to the faulty field of the request; null = none. */
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

const JSON_TYPE = 'application/json';

export type Method = 'GET' | 'POST' | 'PUT' | 'DELETE';

/**
 * Sends a request and returns the JSON of the answer, or undefined for an empty one.
 * @throws ServiceProblem with a title and what to do; AbortError if the caller aborted `signal`
 */
export async function request<T>(method: Method, path: string, body?: unknown, signal?: AbortSignal): Promise<T> {
  const text = await ask(method, path, JSON_TYPE, (answer) => answer.text(), body, signal);
  return (text === '' ? undefined : JSON.parse(text)) as T;
}

/**
 * Sends a request for an answer of a media type. `body` is sent as JSON, a Blob unchanged.
 * @param read reads the body of the answer, during which the connection may break as well
 * @throws ServiceProblem with a title and what to do; AbortError if the caller aborted `signal`
 */
export async function ask<T>(
  method: Method,
  path: string,
  accept: string,
  read: (answer: Response) => Promise<T>,
  body?: unknown,
  signal?: AbortSignal,
): Promise<T> {
  // Requests without these headers can be answered by what the page had preloaded.
  const headers: Record<string, string> = {
    ...(accept !== JSON_TYPE && { accept }),
    ...(method !== 'GET' && identity()),
  };
  const init: RequestInit = { method, headers };
  if (signal) init.signal = signal;
  if (body instanceof Blob) {
    headers['content-type'] = body.type;
    init.body = body;
  } else if (body !== undefined) {
    headers['content-type'] = JSON_TYPE;
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
    // Broken off, refused or timed out: the user can only check the service.
    throw new ServiceProblem(
      0,
      'The service does not answer.',
      'Check that it is running and that this device can reach it.',
    );
  }
  if (response.status === 401) unpaired.value = true;
  throw problemOf(response.status, refusal);
}

/** The user's name, if there is one on this device, as headers of what changes something. */
export function identity(): Record<string, string> {
  const by = personHeader();
  return by === '' ? {} : { 'strandward-by': by };
}

/** Reads problem details (RFC 9457). Anything else becomes a problem with the status. */
export function problemOf(status: number, text: string): ServiceProblem {
  try {
    const parsed = JSON.parse(text) as Readonly<Record<'title' | 'detail' | 'code' | 'pointer', unknown>>;
    if (typeof parsed.title === 'string') {
      return new ServiceProblem(status, parsed.title, textOr('', parsed.detail), {
        code: textOr(null, parsed.code),
        pointer: textOr(null, parsed.pointer),
      });
    }
  } catch {
    // Not JSON: something between the page and the service answered. Reported below.
  }
  return new ServiceProblem(
    status,
    `The service answered with status ${status}.`,
    'Try again. If it happens again, look at the log of the service.',
  );
}

function textOr<Else>(otherwise: Else, value: unknown): string | Else {
  return typeof value === 'string' ? value : otherwise;
}

/** Turns anything thrown into a problem to show. */
export function asProblem(thrown: unknown): ServiceProblem {
  if (thrown instanceof ServiceProblem) return thrown;
  return new ServiceProblem(0, thrown instanceof Error ? thrown.message : String(thrown), 'Reload the page.');
}

export function isAbort(thrown: unknown): boolean {
  return thrown instanceof DOMException && thrown.name === 'AbortError';
}

/** For what the user cannot act on. A device that has been removed sees the page for pairing, which says why. */
export function logFailure(thrown: unknown): void {
  const isRemoved = thrown instanceof ServiceProblem && thrown.status === 401;
  if (!isAbort(thrown) && !isRemoved) console.error(thrown);
}
