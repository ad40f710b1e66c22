/** Notes of the firmware are worth keeping, a flood of them is not. */
const SAME_AGAIN_MS = 60_000;
const NOTES_A_MINUTE = 20;

/** Passes notes on to the log of the run: each text once a minute, and no more than a page of them a minute. */
export class FirmwareLog {
  readonly #keep: (text: string) => void;
  readonly #toldMs = new Map<string, number>();
  #minuteMs = Number.NEGATIVE_INFINITY;
  #kept = 0;

  constructor(keep: (text: string) => void) {
    this.#keep = keep;
  }

  note(text: string, timeMs: number): void {
    if (!(timeMs - this.#minuteMs < 60_000) || timeMs < this.#minuteMs) {
      this.#minuteMs = timeMs;
      this.#kept = 0;
      for (const [told, atMs] of this.#toldMs) if (timeMs - atMs > SAME_AGAIN_MS) this.#toldMs.delete(told);
    }
    const before = this.#toldMs.get(text);
    if (before !== undefined && Math.abs(timeMs - before) < SAME_AGAIN_MS) return;
    this.#kept += 1;
    if (this.#kept > NOTES_A_MINUTE) return;
    this.#toldMs.set(text, timeMs);
    this.#keep(this.#kept === NOTES_A_MINUTE ? `${text} (further notes of this minute are left out)` : text);
  }
}
