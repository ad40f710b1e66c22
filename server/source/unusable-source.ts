import type { Problem } from '../problem/problem.ts';
import type { Source, SourceListener } from './source.ts';

/** Replaces a source that cannot be used: it reports why. */
export class UnusableSource implements Source {
  readonly title = 'no usable source';
  readonly timing = 'live';
  readonly resumable = false;
  readonly isUnusable = true;
  readonly #problem: Problem;
  readonly #isFixed: boolean;

  /** @param isFixed chosen by whoever started the service */
  constructor(problem: Problem, isFixed: boolean) {
    this.#problem = problem;
    this.#isFixed = isFixed;
  }

  start(listener: SourceListener): void {
    const { message, remedy } = this.#problem;
    const change = this.#isFixed ? '' : ' Choose the source on the Set-up page.';
    listener.status({ phase: 'waiting', text: `${message} ${remedy}${change} Trying again every 5 s.` });
  }

  async stop(): Promise<void> {}
}
