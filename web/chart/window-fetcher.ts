/** Pause between two requests: a pinch makes many views. */
const PAUSE_MS = 120;

/**
 * Sends one request at a time, always the newest. While a view is dragged, the stretches on the way are requested too, and a
 * slow answer is awaited instead of requested repeatedly.
 */
export class WindowFetcher<Question, Answer> {
  readonly #ask: (question: Question, signal: AbortSignal) => Promise<Answer>;
  readonly #answered: (answer: Answer) => void;
  readonly #failed: (thrown: unknown) => void;
  #wanted: { readonly question: () => Question } | null = null;
  #busy = false;
  #stopped = new AbortController();

  constructor(
    ask: (question: Question, signal: AbortSignal) => Promise<Answer>,
    answered: (answer: Answer) => void,
    failed: (thrown: unknown) => void,
  ) {
    this.#ask = ask;
    this.#answered = answered;
    this.#failed = failed;
  }

  /** `question` is called when the request is sent. */
  want(question: () => Question): void {
    this.#wanted = { question };
    if (!this.#busy) void this.#run();
  }

  stop(): void {
    this.#stopped.abort();
    this.#stopped = new AbortController();
    this.#wanted = null;
  }

  async #run(): Promise<void> {
    this.#busy = true;
    while (this.#wanted !== null) {
      const { question } = this.#wanted;
      const { signal } = this.#stopped;
      this.#wanted = null;
      try {
        this.#answered(await this.#ask(question(), signal));
      } catch (thrown) {
        if (!signal.aborted) this.#failed(thrown);
      }
      await new Promise((resolve) => setTimeout(resolve, PAUSE_MS));
    }
    this.#busy = false;
  }
}
