import type { Problem } from '../problem/problem.ts';
import type { Source, SourceListener } from './source.ts';

/** Stands in for a source that was set but cannot be used: it says why and waits for other settings. */
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
      text: `${this.#problem.message} ${this.#problem.remedy} The source is chosen on the page Set-up.`,
    });
  }

  async stop(): Promise<void> {}
}
