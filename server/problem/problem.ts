/**
 * Everything that can go wrong because of what somebody gave us: one registry of codes, never reused.
 * Misuse by a programmer is a TypeError; these are for the world.
 */
const PROBLEMS = {
  'unknown-option': { exitCode: 2, httpStatus: 400 },
  'bad-setting': { exitCode: 2, httpStatus: 400 },
  'bad-request': { exitCode: 2, httpStatus: 400 },
  'access-key-missing': { exitCode: 2, httpStatus: 401 },
  'access-denied': { exitCode: 2, httpStatus: 403 },
  'not-found': { exitCode: 2, httpStatus: 404 },
  'unknown-run': { exitCode: 2, httpStatus: 404 },
  'unknown-spool': { exitCode: 2, httpStatus: 404 },
  'unknown-section': { exitCode: 2, httpStatus: 404 },
  'unknown-alarm': { exitCode: 2, httpStatus: 404 },
  'unknown-printer': { exitCode: 2, httpStatus: 404 },
  'unknown-channel': { exitCode: 2, httpStatus: 404 },
  'unknown-contact': { exitCode: 2, httpStatus: 404 },
  'unknown-drill': { exitCode: 2, httpStatus: 404 },
  'unknown-coil': { exitCode: 2, httpStatus: 404 },
  'wrong-state': { exitCode: 2, httpStatus: 409 },
  'bad-template': { exitCode: 2, httpStatus: 422 },
  'bad-section': { exitCode: 2, httpStatus: 422 },
  'too-many-requests': { exitCode: 1, httpStatus: 429 },
  'channel-failed': { exitCode: 1, httpStatus: 502 },
  'port-in-use': { exitCode: 3, httpStatus: 500 },
  'source-unusable': { exitCode: 3, httpStatus: 500 },
  'database-broken': { exitCode: 4, httpStatus: 500 },
  'database-newer': { exitCode: 4, httpStatus: 500 },
  'database-unusable': { exitCode: 4, httpStatus: 500 },
  'bad-archive': { exitCode: 2, httpStatus: 422 },
  'bad-log': { exitCode: 2, httpStatus: 422 },
  'backup-failed': { exitCode: 4, httpStatus: 500 },
  'readings-thinned': { exitCode: 2, httpStatus: 410 },
  'server-fault': { exitCode: 1, httpStatus: 500 },
} as const satisfies Record<string, { exitCode: number; httpStatus: number }>;

export type ProblemCode = keyof typeof PROBLEMS;

/** An error with a sentence that names what is wrong (`message`) and what to do about it (`remedy`). */
export class Problem extends Error {
  readonly code: ProblemCode;
  readonly remedy: string;

  constructor(code: ProblemCode, message: string, remedy: string, options?: ErrorOptions) {
    super(message, options);
    this.name = 'Problem';
    this.code = code;
    this.remedy = remedy;
  }

  get exitCode(): number {
    return PROBLEMS[this.code].exitCode;
  }

  get httpStatus(): number {
    return PROBLEMS[this.code].httpStatus;
  }
}

/** The message of anything that was thrown. */
export function messageOf(thrown: unknown): string {
  return thrown instanceof Error ? thrown.message : String(thrown);
}
