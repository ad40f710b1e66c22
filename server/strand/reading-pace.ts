/** A shorter pause is not a gap, however fast the readings: the host may hold lines back for this long. */
const GAP_S_MIN = 0.5;
const GAP_PITCHES = 5;
/** The first pitch of a stream is accepted up to this; a longer one is a gap. */
const FIRST_PITCH_S_MAX = 2;
const PITCH_SHARE = 1 / 16;
/** Readings by a device's own clock are more regular than this share of their pitch, so a missing one shows. */
const REGULAR_SHARE = 0.05;

/** Learns how often readings come, and decides which pause between two of them is a gap in the record. */
export class ReadingPace {
  #pitchS = Number.NaN;
  /** Mean deviation from the pitch, s. */
  #spreadS = Number.NaN;

  /** Usual time between two readings, s; NaN before the second reading. */
  get pitchS(): number {
    return this.#pitchS;
  }

  /** Whether a pause of `seconds` with `lostLines` known to be lost in it is a gap. Learns the usual pitch from it. */
  isGap(seconds: number, lostLines: number): boolean {
    const usual = this.#pitchS;
    if (Number.isNaN(usual)) {
      const gap = lostLines > 0 || seconds > FIRST_PITCH_S_MAX;
      if (!gap) this.#pitchS = seconds / (1 + lostLines);
      return gap;
    }
    const gap = lostLines > 0 || seconds > Math.max(GAP_S_MIN, GAP_PITCHES * usual);
    // Learn a little from gaps too, so that a line that has become slower is not seen as one gap after another.
    const seen = gap ? Math.min(seconds / (1 + lostLines), 10 * usual + 0.01) : seconds;
    this.#pitchS = usual + (seen - usual) * PITCH_SHARE;
    if (!gap) {
      const deviation = Math.abs(seconds - usual);
      this.#spreadS = Number.isNaN(this.#spreadS)
        ? deviation
        : this.#spreadS + (deviation - this.#spreadS) * PITCH_SHARE;
    }
    return gap;
  }

  /** Readings missing in a pause, as the times of a regular line show; 0 where it is not regular. */
  missingIn(seconds: number): number {
    const usual = this.#pitchS;
    return this.#spreadS < REGULAR_SHARE * usual ? Math.max(0, Math.round(seconds / usual) - 1) : 0;
  }

  /** Forgets the pitch: the next pause is a gap unless it is short. */
  expectGap(): void {
    this.#pitchS = GAP_S_MIN / GAP_PITCHES;
  }
}
