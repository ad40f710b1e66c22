/** Shortest blob that a bench line makes (common practice, no source: 2–30 mm long), mm. */
export const SHORTEST_BLOB_MM = 2;
/** A lone reading between two even neighbours no further apart than this cannot be strand: even the shortest blob has more foot. */
const LONE_FOOT_MM = 0.72 * SHORTEST_BLOB_MM;
/** The same for two readings in a row, which one cause seldom spoils: only where they are far too short for a blob. */
const SHORT_FOOT_MM = SHORTEST_BLOB_MM / 2;
/** A smaller excursion may be noise on thick strand, whose shape says nothing. */
const LONE_HEIGHT_MM = 0.08;
/**
 * In a blob three readings long, the neighbours of the peak together reach half its height or more (a raised cosine: 0.25 +
 * 0.25); next to a wrong reading they reach nothing. The threshold favours blobs.
 */
const LONE_SHOULDERS = 0.15;
/** Stricter where only one of two axes saw the excursion … */
const LONE_SHOULDERS_ONE_AXIS = 0.25;
/** … and milder where two readings saw it. */
const PAIR_SHOULDERS = 0.08;
/** A neighbour at this share of the height or more, and so far outside the noise, has seen the flank. */
const FLANK_SHARE = 0.25;
const FLANK_SIGMAS = 4;
/** So many readings must have seen a blob before it is sure: two wrong ones in a row do happen, three hardly ever. */
const WITNESSES = 3;
/**
 * Readings so many standard deviations of the noise off the strand around them are no noise. One blob in 100 m is one in 10⁵
 * readings, and the evidence must outweigh that.
 */
const NOISE_SIGMAS = 5;
/** With one flank, the other, or both there are three more ways to be so by chance: each gets a quarter of it. */
const NOISE_SIGMAS_WITH_FLANKS = 5.25;
/** Strand whose level is this near to the limit may well cross it: there, noise explains nothing. */
const NEAR_LIMIT_MM = 0.05;

/** A reading of strand that is, or may be, beyond a limit. One object may be reused. */
export interface StrandSample {
  timeMs: number;
  gaugeMm: number;
  diameterMm: number;
  /** Diameter of the surrounding strand, without excursions. */
  baselineMm: number;
  pitchMm: number;
  /** |dx − dy|; NaN with one axis. */
  outOfRoundMm: number;
  /** Standard deviation of a reading. */
  sigmaMm: number;
  /** The gauge is too noisy to tell a blob: its strand counts as not measured, unless a blob is sure. */
  isNoisy: boolean;
  /** Length of strand that a reading averages over. */
  averagedMm: number;
}

/**
 * Readings in a row beyond a limit, and what their neighbours say about them. Strand cannot jump and come back within less
 * than the foot of the shortest blob, made longer by what a reading averages over.
 */
export class Excursion {
  readonly #side: 1 | -1;
  #innerMm = 0;
  #baselineMm = 0;
  #sumMm = 0;
  #heightMm = 0;
  #oneAxis = false;
  /** Elevation of the reading before, mm; NaN = there was none near. */
  #before = Number.NaN;
  /** Place of the reading before. */
  #footFromMm = 0;
  readings = 0;
  fromMm = 0;
  fromTimeMs = 0;
  toMm = 0;
  toTimeMs = 0;
  peakMm = 0;
  peakAtMm = 0;
  volumeMm3 = 0;

  constructor(side: 1 | -1) {
    this.#side = side;
  }

  /** The reading before was `previousMm` thick; NaN = there was none near. */
  start(sample: StrandSample, innerMm: number, previousAtMm: number, previousMm: number): void {
    const { timeMs, gaugeMm, diameterMm, baselineMm, outOfRoundMm } = sample;
    this.#innerMm = innerMm;
    this.#baselineMm = baselineMm;
    this.#footFromMm = Number.isNaN(previousAtMm) ? gaugeMm : previousAtMm;
    this.#before = this.#side * (previousMm - baselineMm);
    this.#sumMm = 0;
    this.#heightMm = Number.NEGATIVE_INFINITY;
    this.readings = 0;
    this.volumeMm3 = 0;
    this.fromMm = gaugeMm;
    this.fromTimeMs = timeMs;
    this.#add(timeMs, gaugeMm, diameterMm);
    // One axis saw all of it and the other almost nothing.
    this.#oneAxis = outOfRoundMm > 0.9 * this.#heightMm;
  }

  grow({ timeMs, gaugeMm, diameterMm }: StrandSample, volumeMm3: number): void {
    this.volumeMm3 += volumeMm3;
    this.#add(timeMs, gaugeMm, diameterMm);
  }

  /** The volume since the last call, which a section adds to its own. */
  takeVolume(): number {
    const volumeMm3 = this.volumeMm3;
    this.volumeMm3 = 0;
    return volumeMm3;
  }

  #add(timeMs: number, gaugeMm: number, diameterMm: number): void {
    const elevation = this.#side * (diameterMm - this.#baselineMm);
    this.readings++;
    this.#sumMm += elevation;
    this.toMm = gaugeMm;
    this.toTimeMs = timeMs;
    if (elevation <= this.#heightMm) return;
    this.#heightMm = elevation;
    this.peakMm = diameterMm;
    this.peakAtMm = gaugeMm;
  }

  /**
   * There is too much of it for the gauge's noise on strand that is within, with or without its flanks.
   * @param afterMm diameter of the reading after it; NaN = not known yet
   */
  isBeyondNoise(sigmaMm: number, afterMm = Number.NaN): boolean {
    if (this.#side * (this.#innerMm - this.#baselineMm) < NEAR_LIMIT_MM) return true;
    const mostMm = NOISE_SIGMAS_WITH_FLANKS * sigmaMm;
    const sum = this.#sumMm;
    const n = this.readings;
    const [before, after] = [this.#before, this.#side * (afterMm - this.#baselineMm)];
    // NaN compares false.
    return (
      sum > NOISE_SIGMAS * sigmaMm * Math.sqrt(n) ||
      sum + before > mostMm * Math.sqrt(n + 1) ||
      sum + after > mostMm * Math.sqrt(n + 1) ||
      sum + before + after > mostMm * Math.sqrt(n + 2)
    );
  }

  /** Long enough for a section to be opened before its end is seen. */
  get isLongEnough(): boolean {
    return this.readings >= WITNESSES || (this.readings === 2 && this.toMm - this.#footFromMm > SHORT_FOOT_MM);
  }

  /** So many readings over so much strand are never wrong ones, whatever follows. */
  get isWitnessed(): boolean {
    return this.readings >= WITNESSES && this.#isNoShorter(this.toMm);
  }

  /** Up to `toMm` it is not too short for a blob, or no length is known. */
  #isNoShorter(toMm: number): boolean {
    const lengthMm = toMm - this.#footFromMm;
    return lengthMm > SHORT_FOOT_MM || lengthMm === 0;
  }

  /** Once the reading after it is known: enough readings have seen it, and it has the shape of strand. */
  isWitnessedWith({ gaugeMm, diameterMm, sigmaMm }: StrandSample): boolean {
    const after = this.#side * (diameterMm - this.#baselineMm);
    const flank = Math.max(FLANK_SHARE * this.#heightMm, FLANK_SIGMAS * sigmaMm);
    const witnesses = this.readings + (this.#before >= flank ? 1 : 0) + (after >= flank ? 1 : 0);
    return witnesses >= WITNESSES && (this.#isNoShorter(gaugeMm) || this.#before + after >= flank);
  }

  /** Once the reading after it is known: strand cannot look like this. */
  isGlitch({ gaugeMm, diameterMm, averagedMm, pitchMm }: StrandSample): boolean {
    const height = this.#heightMm;
    // NaN (no reading before) compares false: not a glitch.
    const shoulders = this.#before + this.#side * (diameterMm - this.#baselineMm);
    if (this.readings > 2 || !(height > LONE_HEIGHT_MM)) return false;
    const footMm = gaugeMm - this.#footFromMm;
    if (this.readings === 2)
      return footMm > 0 && footMm < SHORT_FOOT_MM + averagedMm && shoulders < PAIR_SHOULDERS * height;
    if (!(shoulders < (this.#oneAxis ? LONE_SHOULDERS_ONE_AXIS : LONE_SHOULDERS) * height)) return false;
    // Strand too thin for one reading neither slips nor breaks.
    return this.#side < 0 || (2 * pitchMm <= LONE_FOOT_MM + averagedMm && footMm <= SHORTEST_BLOB_MM + averagedMm);
  }
}
