import { pause } from './pause.ts';
import { fitsClearly, fitsClearlyNot, mayFit, rateFit } from './rate-fit.ts';

/**
 * Baud rates that sketches use, the most usual first (common practice, no source). 230 400 must be tried before 250 000, at
 * which numbers that are sent at 230 400 can be read as other numbers.
 */
export const USUAL_RATES: readonly number[] = [
  115_200, 9600, 57_600, 38_400, 19_200, 230_400, 250_000, 500_000, 1_000_000,
];

export interface RateSearchParts {
  /** The rate that is set, and set again afterwards. */
  readonly baudRate: number;
  setRate(baud: number): Promise<void>;
  /** Called with each rate before it is tried. */
  onTrial(baud: number): void;
  /** Usual time of a trial. A board that has sent only a few bytes by then is given three times as long. */
  readonly trialMs?: number;
}

const TRIAL_MS = 1000;
const LONGEST_TRIALS = 3;
/** What arrives directly after a change may have been sent before it, as a share of a trial. */
const SETTLING_SHARE = 0.05;
/** How often what has arrived is judged during a trial. */
const LOOKS = 10;
/** More is not needed for a verdict. */
const SAMPLE_BYTES_MAX = 4096;

/** Tries baud rates on an open port, one after the other. Opening it again for each would reset many boards. */
export class RateSearch {
  readonly #parts: RateSearchParts;
  readonly #stopping = new AbortController();
  #sample: Uint8Array = new Uint8Array(0);

  constructor(parts: RateSearchParts) {
    this.#parts = parts;
  }

  /** Takes what arrives while the search runs. */
  bytes(chunk: Uint8Array): void {
    if (this.#sample.length < SAMPLE_BYTES_MAX) this.#sample = Buffer.concat([this.#sample, chunk]);
  }

  /** Call when the connection is over. */
  stop(): void {
    this.#stopping.abort();
  }

  /** @returns the rate that fits; null = none does, or the search was stopped */
  async run(): Promise<number | null> {
    const { baudRate, setRate, onTrial } = this.#parts;
    const { signal } = this.#stopping;
    try {
      for (const rate of USUAL_RATES) {
        if (rate === baudRate) continue;
        if (signal.aborted) return null;
        onTrial(rate);
        await setRate(rate);
        if (await this.#fits()) return rate;
      }
      return null;
    } catch {
      // The port was lost during the search, which the connection reports.
      return null;
    } finally {
      // A connection that is over is opened at the set rate anyway.
      if (!signal.aborted) await setRate(baudRate).catch(() => {});
    }
  }

  async #fits(): Promise<boolean> {
    const { trialMs = TRIAL_MS } = this.#parts;
    const { signal } = this.#stopping;
    await pause(trialMs * SETTLING_SHARE, signal);
    this.#sample = new Uint8Array(0);
    for (let look = 1; look <= LOOKS * LONGEST_TRIALS && !signal.aborted; look++) {
      await pause(trialMs / LOOKS, signal);
      const fit = rateFit(this.#sample);
      if (fitsClearly(fit)) return true;
      if (fitsClearlyNot(fit) || (look >= LOOKS && !mayFit(fit))) return false;
    }
    return false;
  }
}
