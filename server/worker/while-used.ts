/** Runs tasks, and calls `end` once none has run for a while: an idle worker holds memory for nothing. */
export class WhileUsed {
  readonly #endAfterMs: number;
  readonly #end: () => void;
  #running = 0;
  #timer: NodeJS.Timeout | undefined;

  constructor(endAfterMs: number, end: () => void) {
    this.#endAfterMs = endAfterMs;
    this.#end = end;
  }

  async run<T>(task: () => Promise<T>): Promise<T> {
    clearTimeout(this.#timer);
    this.#running++;
    try {
      return await task();
    } finally {
      if (--this.#running === 0) this.#timer = setTimeout(this.#end, this.#endAfterMs).unref();
    }
  }

  /** No longer calls `end` for tasks that have run. */
  cancel(): void {
    clearTimeout(this.#timer);
  }
}
