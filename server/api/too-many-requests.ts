import { Problem } from '../problem/problem.ts';

/** An address has to wait. The answer says for how long, in words and in `Retry-After` (RFC 6585, section 4). */
export class TooManyRequests extends Problem {
  readonly retryAfterS: number;

  /** @param then what to do afterwards, such as “ask less often” */
  constructor(what: string, waitMs: number, then: string) {
    const retryAfterS = Math.ceil(waitMs / 1000);
    super('too-many-requests', what, `Wait ${retryAfterS} s, then ${then}.`);
    this.retryAfterS = retryAfterS;
  }
}
