/** A change of the speed by more than this share plus this much, mm/s, waits for the next reading; nothing is lost by it. */
const SUDDEN_SHARE = 0.2;
const SUDDEN_MM_PER_S = 2;

/**
 * Integrates the sent speed over time (trapezoid rule). A digit changed on the cable is a jump there and back, so a sudden
 * change counts only once the next reading confirms it.
 */
export class TrustedSpeed {
  #speed = Number.NaN;
  #doubtful = Number.NaN;
  #doubtfulS = 0;
  /** Strand that was counted too much, because a sudden drop of the speed was not trusted at once. */
  #owedMm = 0;

  /** @param mmPerS NaN = unknown; the length is then the speed's that was known before, as long as that is valid */
  set(mmPerS: number): void {
    this.#speed = mmPerS;
    this.#doubtful = Number.NaN;
  }

  /**
   * @param mmPerS NaN = not sent this time, and no earlier one is still valid
   * @param trusted take it as it is, because nothing is known about the time before
   * @returns strand since the last reading, mm; NaN = unknown
   */
  step(mmPerS: number, seconds: number, trusted: boolean): number {
    const before = this.#speed;
    if (trusted || Number.isNaN(before) || Number.isNaN(mmPerS) || !isSudden(before, mmPerS)) {
      this.set(mmPerS);
      return this.#settled(meanOf(before, mmPerS) * seconds);
    }
    const doubtful = this.#doubtful;
    if (Number.isNaN(doubtful) || isSudden(doubtful, mmPerS)) {
      this.#doubtful = mmPerS;
      this.#doubtfulS = seconds;
      return this.#settled(Math.max(before, 0) * seconds);
    }
    const missedMm = ((Math.max(doubtful, 0) - Math.max(before, 0)) / 2) * this.#doubtfulS;
    this.set(mmPerS);
    return this.#settled(missedMm + meanOf(doubtful, mmPerS) * seconds);
  }

  #settled(mm: number): number {
    if (Number.isNaN(mm)) return mm;
    const left = mm - this.#owedMm;
    this.#owedMm = Math.max(0, -left);
    return Math.max(0, left);
  }
}

function isSudden(before: number, now: number): boolean {
  return Math.abs(now - before) > SUDDEN_SHARE * Math.max(Math.min(before, now), 0) + SUDDEN_MM_PER_S;
}

/** NaN where neither is known. A puller running backwards adds nothing. */
function meanOf(before: number, after: number): number {
  const from = Number.isNaN(before) ? after : before;
  const to = Number.isNaN(after) ? before : after;
  return (Math.max(from, 0) + Math.max(to, 0)) / 2;
}
