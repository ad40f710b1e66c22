import { systemErrorText } from './system-error.ts';

/**
 * Everything that can go wrong because of input or the surroundings: one registry of codes, never reused and never renamed.
 * DEVELOPERS.md explains each. A mistake of the programmer is a TypeError instead.
 */
export const PROBLEMS = {
  'unknown-option': { exitCode: 2, httpStatus: 400 },
  'bad-setting': { exitCode: 2, httpStatus: 400 },
  'bad-request': { exitCode: 2, httpStatus: 400 },
  'bad-name': { exitCode: 2, httpStatus: 400 },
  'bad-printer': { exitCode: 2, httpStatus: 400 },
  'bad-choice': { exitCode: 2, httpStatus: 400 },
  'bad-cut': { exitCode: 2, httpStatus: 400 },
  'bad-length': { exitCode: 2, httpStatus: 400 },
  'bad-place': { exitCode: 2, httpStatus: 400 },
  'bad-window': { exitCode: 2, httpStatus: 400 },
  'bad-comparison': { exitCode: 2, httpStatus: 400 },
  'bad-time': { exitCode: 2, httpStatus: 400 },
  'bad-shelving': { exitCode: 2, httpStatus: 400 },
  'upload-stalled': { exitCode: 1, httpStatus: 400 },
  'not-paired': { exitCode: 2, httpStatus: 401 },
  'right-missing': { exitCode: 2, httpStatus: 403 },
  'access-denied': { exitCode: 2, httpStatus: 403 },
  'not-found': { exitCode: 2, httpStatus: 404 },
  'wrong-method': { exitCode: 2, httpStatus: 405 },
  'unknown-run': { exitCode: 2, httpStatus: 404 },
  'unknown-spool': { exitCode: 2, httpStatus: 404 },
  'unknown-section': { exitCode: 2, httpStatus: 404 },
  'unknown-alarm': { exitCode: 2, httpStatus: 404 },
  'unknown-printer': { exitCode: 2, httpStatus: 404 },
  'unknown-channel': { exitCode: 2, httpStatus: 404 },
  'unknown-contact': { exitCode: 2, httpStatus: 404 },
  'unknown-drill': { exitCode: 2, httpStatus: 404 },
  'unknown-coil': { exitCode: 2, httpStatus: 404 },
  'unknown-device': { exitCode: 2, httpStatus: 404 },
  'unknown-line': { exitCode: 2, httpStatus: 404 },
  'wrong-state': { exitCode: 2, httpStatus: 409 },
  'wrong-type': { exitCode: 2, httpStatus: 415 },
  'bad-template': { exitCode: 2, httpStatus: 422 },
  'bad-section': { exitCode: 2, httpStatus: 422 },
  'too-many-requests': { exitCode: 1, httpStatus: 429 },
  'channel-failed': { exitCode: 1, httpStatus: 502 },
  'line-failed': { exitCode: 1, httpStatus: 502 },
  'port-in-use': { exitCode: 3, httpStatus: 500 },
  'source-unusable': { exitCode: 3, httpStatus: 422 },
  'database-broken': { exitCode: 6, httpStatus: 500 },
  'database-newer': { exitCode: 6, httpStatus: 500 },
  'database-unusable': { exitCode: 4, httpStatus: 500 },
  'record-failing': { exitCode: 4, httpStatus: 507 },
  'not-ready': { exitCode: 1, httpStatus: 503 },
  'watching-stalled': { exitCode: 5, httpStatus: 503 },
  'machine-full': { exitCode: 1, httpStatus: 503 },
  'not-running': { exitCode: 1, httpStatus: 503 },
  'bad-archive': { exitCode: 2, httpStatus: 422 },
  'bad-log': { exitCode: 2, httpStatus: 422 },
  'backup-failed': { exitCode: 4, httpStatus: 500 },
  'collection-failed': { exitCode: 4, httpStatus: 500 },
  'readings-thinned': { exitCode: 2, httpStatus: 410 },
  'server-fault': { exitCode: 1, httpStatus: 500 },
} as const satisfies Record<string, { exitCode: number; httpStatus: number }>;

export type ProblemCode = keyof typeof PROBLEMS;

/** A problem as plain data, to pass from one thread to another. */
export interface ProblemParts {
  readonly code: ProblemCode;
  readonly message: string;
  readonly remedy: string;
  readonly pointer: string | null;
}

export interface ProblemOptions extends ErrorOptions {
  /** The field of the request at fault, as a JSON pointer (RFC 6901) into its body or query. */
  readonly pointer?: string | null;
}

/** An error that says in sentences what happened (`message`) and what to do (`remedy`). */
export class Problem extends Error implements ProblemParts {
  readonly code: ProblemCode;
  readonly remedy: string;
  /** null = not about a field of the request. */
  readonly pointer: string | null;

  constructor(code: ProblemCode, message: string, remedy: string, options: ProblemOptions = {}) {
    const { pointer = null, ...rest } = options;
    super(message, rest);
    this.name = 'Problem';
    this.code = code;
    this.remedy = remedy;
    this.pointer = pointer;
  }

  /** The same problem with another pointer; null = not about a field. */
  at(pointer: string | null): Problem {
    return new Problem(this.code, this.message, this.remedy, { pointer, cause: this });
  }

  static of({ code, message, remedy, pointer }: ProblemParts): Problem {
    return new Problem(code, message, remedy, { pointer });
  }

  get parts(): ProblemParts {
    const { code, message, remedy, pointer } = this;
    return { code, message, remedy, pointer };
  }

  get exitCode(): number {
    return PROBLEMS[this.code].exitCode;
  }

  get httpStatus(): number {
    return PROBLEMS[this.code].httpStatus;
  }
}

/**
 * Runs a check of one part of a request, and makes its pointers start from the whole request.
 * @param part pointer to that part; null = the checked value is not in the request
 */
export function within<T>(part: string | null, check: () => T): T {
  try {
    return check();
  } catch (thrown) {
    if (!(thrown instanceof Problem)) throw thrown;
    throw thrown.at(part === null ? null : part + (thrown.pointer ?? ''));
  }
}

/** What another service replies with, in problem details (RFC 9457); null = none of ours. */
export function problemOfReply(body: unknown): Problem | null {
  const { code, title, detail } = (body ?? {}) as Partial<Record<string, unknown>>;
  if (typeof code !== 'string' || typeof title !== 'string' || !Object.hasOwn(PROBLEMS, code)) return null;
  return new Problem(code as ProblemCode, title, typeof detail === 'string' ? detail : '');
}

/** The message of any thrown value; of the system only what it says in words. */
export function messageOf(thrown: unknown): string {
  if (!(thrown instanceof Error)) return String(thrown);
  // Of a host with several addresses: only the errors in it say what happened.
  if (thrown instanceof AggregateError && thrown.message === '' && thrown.errors.length > 0)
    return messageOf(thrown.errors[0]);
  return thrown instanceof Problem ? thrown.message : (systemErrorText(thrown) ?? thrown.message);
}
