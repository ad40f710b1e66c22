import type { Problem } from '../problem/problem.ts';
import type { Source, SourceListener } from './source.ts';

/** Replaces a source that cannot be used: it reports why and waits for other settings. */
export class UnusableSource implements Source {
  readonly title = 'no usable source';
  readonly timing = 'live';
  readonly resumable = false;
  readonly #problem: Problem;

  constructor(problem: Problem) {
    this.#problem = problem;
  }

  start(listener: SourceListener): void {
    listener.status({
      phase: 'waiting',
      text: `${this.#problem.message} ${this.#problem.remedy} Choose the source on the Set-up page.`,
    });
  }

  async stop(): Promise<void> {}
}
