/** The noise is known for means over this many successive readings. */
export const NOISE_SPANS = [1, 4, 16] as const;
/** Standard deviation assumed before anything was read (common practice, no source), mm, and how many readings it is worth. */
const FIRST_GUESS_MM = 0.005;
const FIRST_GUESS_COUNTS = 8;
/** Assumed until the reading has changed this often: most gauges resolve 1 µm (common practice, no source). */
const USUAL_RESOLUTION_MM = 0.001;
const MANY_CHANGES = 30;
/** The estimate follows a change of the noise over about this many differences. */
const MEMORY = 1024;
/** Squares beyond this many variances are cut there, so that blobs and garbage hardly count. */
const CUT = 9;
/** Mean of the squares of a normal value, cut at `CUT`. */
const MEAN_CUT = 0.995;
/**
 * The noise itself has grown if half of the last readings or more bend by this many times the usual, back and forth as noise does:
 * the squares of its bends are six times those of its deviations, a flat blob's 2.3 times at most. The estimate then starts
 * again with so many counts.
 */
const GROWN = { readings: 16, times: 4, bendsPerDeviation: 4, counts: 32 } as const;
/** From so many counts on the estimate is taken as it is. */
const KNOWN_AFTER = 64;
/** Half of all normal values are within so many standard deviations. */
const MEDIAN = 0.6745;

/**
 * The scatter of the gauge itself, from the readings: x₁ − 2x₂ + x₃ of three successive means over 1, 4 and 16 readings
 * cancels the strand's level and slope, and its variance is six times that of one mean. A gauge that smooths its readings
 * hides its noise from neighbours, so readings and means that are further apart are compared as well. What the strand does
 * within so few readings counts as noise: the estimate is rather too large than too small.
 */
export class GaugeNoise {
  readonly #neighbours = new NoiseOfMeans(1);
  /** Every fourth reading; every second mean of 4; means of 16. */
  readonly #apart = NOISE_SPANS.map((span) => new NoiseOfMeans(span));
  #last = Number.NaN;
  /** The smallest change of the reading so far: its resolution, once it has changed often. */
  #leastChangeMm = Number.POSITIVE_INFINITY;
  #changes = 0;
  /** The last readings, the latest at the end. */
  readonly #latest = new Float64Array(GROWN.readings);
  readonly #squares = new Float64Array(GROWN.readings - 2);
  #readings = 0;

  step(diameterMm: number): void {
    const change = Math.abs(diameterMm - this.#last);
    if (change > 0) {
      this.#changes++;
      this.#leastChangeMm = Math.min(this.#leastChangeMm, change);
    }
    this.#last = diameterMm;
    this.#latest.copyWithin(0, 1);
    this.#latest[GROWN.readings - 1] = diameterMm;
    this.#neighbours.add(diameterMm);
    this.#readings++;
    if ((this.#readings & 3) !== 0) return;
    this.#followGrowth();
    this.#apart[0]!.add(diameterMm);
    if ((this.#readings & 4) !== 0) this.#apart[1]!.add(meanOf(this.#latest.subarray(-4)));
    if ((this.#readings & 15) === 0) this.#apart[2]!.add(meanOf(this.#latest));
  }

  #followGrowth(): void {
    if (this.#readings < GROWN.readings || !this.#neighbours.isKnown) return;
    const latest = this.#latest;
    // A gauge that smooths hides its noise from neighbours.
    const known = Math.max(this.#neighbours.variance, this.#apart[0]!.variance);
    const squares = this.#squares;
    let [far, bends] = [0, 0];
    for (let i = 0; i < squares.length; i++) {
      const square = (latest[i]! - 2 * latest[i + 1]! + latest[i + 2]!) ** 2;
      squares[i] = square;
      bends += square;
      if (square > (GROWN.times * MEDIAN) ** 2 * 6 * known) far++;
    }
    if (far < GROWN.readings / 2) return;
    const mean = meanOf(latest);
    const deviations = latest.reduce((sum, mm) => sum + (mm - mean) ** 2, 0);
    if (bends < GROWN.bendsPerDeviation * deviations) return;
    const variance = squares.sort()[GROWN.readings / 2 - 2]! / (MEDIAN ** 2 * 6);
    for (const means of [this.#neighbours, ...this.#apart]) means.grow(variance);
  }

  /** The next reading does not follow on the last one. */
  interrupt(): void {
    this.#neighbours.interrupt();
    for (const means of this.#apart) means.interrupt();
    this.#last = Number.NaN;
    this.#readings = 0;
  }

  /** Standard deviation of a mean over `NOISE_SPANS[level]` readings, mm. One of few never scatters less than one of many. */
  sigmaMm(level: number, pitchMm: number): number {
    return Math.sqrt(this.#largest('variance', level, pitchMm));
  }

  /** As `sigmaMm` of a reading, but while few readings tell it, only what their chance allows, mm. */
  cautiousSigmaMm(pitchMm: number): number {
    return Math.sqrt(this.#largest('cautious', 0, pitchMm));
  }

  #largest(of: 'variance' | 'cautious', level: number, pitchMm: number): number {
    let variance = (level === 0 ? this.#neighbours : this.#apart[level]!)[of];
    for (let i = level; i < NOISE_SPANS.length && isOfGauge(i, pitchMm); i++)
      variance = Math.max(variance, this.#apart[i]![of]);
    return variance;
  }

  /** Standard deviation of a mean over so much strand, mm: that of the longest shorter mean that is known, over the root of their number. */
  sigmaOfMeanMm(spanMm: number, pitchMm: number): number {
    const readings = pitchMm > 0 ? 1 + spanMm / pitchMm : 1;
    let level = NOISE_SPANS.length - 1;
    while (level > 0 && (NOISE_SPANS[level]! > readings || !isOfGauge(level, pitchMm))) level--;
    return this.sigmaMm(level, pitchMm) * Math.sqrt(NOISE_SPANS[level]! / readings);
  }

  /** Standard deviation from rounding, mm. It does not become less over many readings, which may all be rounded alike. */
  get roundingMm(): number {
    return (this.#changes < MANY_CHANGES ? USUAL_RESOLUTION_MM : this.#leastChangeMm) / Math.sqrt(12);
  }
}

/** Readings from the first to the last of the three that are compared at each level. */
const REACH = [9, 20, 48] as const;
/** Over more strand than this, readings differ because the strand does. */
const LONGEST_REACH_MM = 36;

/** Whether what means of this level scatter says something about the gauge rather than the strand. */
export function isOfGauge(level: number, pitchMm: number): boolean {
  return !(REACH[level]! * pitchMm > LONGEST_REACH_MM);
}

class NoiseOfMeans {
  readonly #readings: number;
  variance: number;
  #counts = FIRST_GUESS_COUNTS;
  #wasKnown = false;
  #before = Number.NaN;
  #last = Number.NaN;

  constructor(readings: number) {
    this.#readings = readings;
    this.variance = FIRST_GUESS_MM ** 2 / readings;
  }

  add(mean: number): void {
    const bend = this.#before - 2 * this.#last + mean;
    this.#before = this.#last;
    this.#last = mean;
    if (Number.isNaN(bend)) return;
    this.#counts = Math.min(this.#counts + 1, MEMORY);
    if (this.isKnown) this.#wasKnown = true;
    const square = Math.min((bend * bend) / 6, CUT * this.variance);
    this.variance += (square / MEAN_CUT - this.variance) / this.#counts;
  }

  /** Successive bends overlap, so the mean of n first squares scatters by about 2/√n of itself; twice that is allowed for. */
  get cautious(): number {
    return this.#wasKnown ? this.variance : this.variance * Math.max(0, 1 - 4 / Math.sqrt(this.#counts));
  }

  get isKnown(): boolean {
    return this.#counts > KNOWN_AFTER;
  }

  /** @param variance of a single reading */
  grow(variance: number): void {
    this.variance = Math.max(this.variance, variance / this.#readings);
    this.#counts = Math.min(this.#counts, GROWN.counts);
  }

  interrupt(): void {
    this.#before = Number.NaN;
    this.#last = Number.NaN;
  }
}

function meanOf(values: Float64Array): number {
  return values.reduce((sum, value) => sum + value, 0) / values.length;
}
