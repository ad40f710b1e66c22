/** A pause shorter than this is no gap, however fast the line usually is: a host may hold lines back for that long. */
const GAP_S_MIN = 0.5;
const GAP_PITCHES = 5;
/** Fewer lost lines than this leave a hole that is not wider than a slow line's usual pitch. */
const LOST_LINES_MIN = 4;
/** The first pitch of a stream is believed up to this; a longer one is a gap. */
const FIRST_PITCH_S_MAX = 2;
const PITCH_SHARE = 1 / 16;

/** How often readings come, and which pause between two of them is a gap in the record. */
export class ReadingPace {
  #pitchS = Number.NaN;

  /** Usual time between two readings, s; NaN before the second reading. */
  get pitchS(): number {
    return this.#pitchS;
  }

  /** Whether a pause of `seconds` with `lostLines` known to be lost in it is a gap. Learns the usual pitch from it. */
  isGap(seconds: number, lostLines: number): boolean {
    const usual = this.#pitchS;
    if (Number.isNaN(usual)) {
      const gap = lostLines >= LOST_LINES_MIN || seconds > (lostLines > 0 ? GAP_S_MIN : FIRST_PITCH_S_MAX);
      if (!gap) this.#pitchS = seconds / (1 + lostLines);
      return gap;
    }
    const gap = lostLines >= LOST_LINES_MIN || seconds > Math.max(GAP_S_MIN, GAP_PITCHES * usual);
    // A gap teaches a little too, so that a line that was made slower is not all gaps for ever.
    const seen = gap ? Math.min(seconds / (1 + lostLines), 10 * usual + 0.01) : seconds;
    this.#pitchS = usual + (seen - usual) * PITCH_SHARE;
    return gap;
  }

  /** Forget the pitch: what comes next is compared with a short pause only. */
  expectGap(): void {
    this.#pitchS = GAP_S_MIN / GAP_PITCHES;
  }
}
