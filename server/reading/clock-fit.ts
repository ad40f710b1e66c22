/** One point a second of device time is enough for a fit, and bounds its cost. */
const BUCKET_MS = 1000;
const WINDOW_MS = 300_000;
const BUCKETS_MIN = 30;
/** An oscillator without a crystal is good to a few per cent; common practice, no source. */
const DRIFT_MAX = 0.1;
/** A slope over less than this is mostly jitter. */
const FIRST_SPAN_MS = 2500;
const LATER_SPAN_MS = 30_000;
/** Time constant and limits with which the times that are given out follow the fit. */
const FOLLOW_MS = 2000;
const FOLLOW_SLOPE = 0.02;
const FOLLOW_SLOPE_FAR = 0.5;
const FAR_MS = 100;
/** When every line of the last half minute is later than the fit by this, the device stood still meanwhile. */
const LEFT_BEHIND_MS = 1000;

interface Bucket {
  /** Device time since the start, ms. */
  x: number;
  /** Least lateness in this second: arrival − device time, both since the start, ms. */
  lateness: number;
}

/**
 * Fits the device's clock to the server's: time = device time × (1 + drift) + offset.
 *
 * A line arrives late (USB buffering, a busy service) but never early, so the truth is the lower envelope of
 * arrival − device time: the line below all points that lies nearest to them, which is the edge of their lower convex
 * hull over their mean (S. B. Moon, P. Skelly, D. Towsley, "Estimation and removal of clock skew from network delay
 * measurements", IEEE INFOCOM 1999; from memory). Points older than five minutes are forgotten, so that it follows the
 * oscillator's temperature.
 */
export class ClockFit {
  #deviceStart = 0;
  #arrivalStart = 0;
  #buckets: Bucket[] = [];
  #drift = 0;
  #driftIsKnown = false;
  #driftBefore = 0;
  #offset = 0;
  // What was given out last: it follows the fit without a jump.
  #x = 0;
  #lateness = 0;

  /** Begin anew at a line; what was learnt of the drift stays, for it is the same oscillator. */
  start(deviceMs: number, arrivalMs: number): number {
    this.#deviceStart = deviceMs;
    this.#arrivalStart = arrivalMs;
    this.#buckets = [{ x: 0, lateness: 0 }];
    this.#offset = 0;
    this.#x = 0;
    this.#lateness = 0;
    return arrivalMs;
  }

  /** Drift of the device's clock against the server's: 0.001 = it loses a millisecond a second. */
  get drift(): number {
    return this.#drift;
  }

  /** Device time of a line that arrived without any delay: no line can be newer. */
  deviceMsAt(arrivalMs: number): number {
    return this.#deviceStart + (arrivalMs - this.#arrivalStart - this.#offset) / (1 + this.#drift);
  }

  /**
   * Take in a line.
   * @returns its time on the server's clock, ms
   */
  add(deviceMs: number, arrivalMs: number): number {
    const x = deviceMs - this.#deviceStart;
    const lateness = arrivalMs - this.#arrivalStart - x;
    const last = this.#buckets.at(-1)!;
    if (x - last.x < BUCKET_MS) {
      if (lateness - this.#drift * (x - last.x) < last.lateness) {
        // The bucket keeps its place, so that it still ends after a second.
        last.lateness = lateness - this.#drift * (x - last.x);
      }
    } else {
      this.#refit();
      this.#buckets.push({ x, lateness });
    }
    // A line earlier than the fit proves that the fit is late.
    this.#offset = Math.min(this.#offset, lateness - this.#drift * x);
    return this.#follow(x);
  }

  #follow(x: number): number {
    const step = Math.max(0, x - this.#x);
    const target = this.#offset + this.#drift * x;
    const carried = this.#lateness + this.#drift * step;
    const error = target - carried;
    if (error > LEFT_BEHIND_MS) {
      this.#lateness = target;
    } else {
      const limit = step * (Math.abs(error) > FAR_MS ? FOLLOW_SLOPE_FAR : FOLLOW_SLOPE);
      const correction = error * Math.min(1, step / FOLLOW_MS);
      this.#lateness = carried + Math.max(-limit, Math.min(limit, correction));
    }
    this.#x = Math.max(this.#x, x);
    return this.#arrivalStart + x + this.#lateness;
  }

  #refit(): void {
    const buckets = this.#buckets;
    const newest = buckets.at(-1)!.x;
    while (buckets.length > BUCKETS_MIN && newest - buckets[0]!.x > WINDOW_MS) buckets.shift();
    if (buckets.length > BUCKETS_MIN) {
      const recent = buckets.slice(-BUCKETS_MIN);
      if (recent.every((b) => b.lateness - this.#offset - this.#drift * b.x > LEFT_BEHIND_MS)) this.#buckets = recent;
    }
    const span = newest - this.#buckets[0]!.x;
    const edge = envelopeSlope(this.#buckets);
    const weight = span * span;
    const prior = (this.#driftIsKnown ? LATER_SPAN_MS : FIRST_SPAN_MS) ** 2;
    const before = this.#driftIsKnown ? this.#driftBefore : 0;
    const drift = (weight * edge + prior * before) / (weight + prior);
    this.#drift = Math.max(-DRIFT_MAX, Math.min(DRIFT_MAX, drift));
    if (span > 4 * LATER_SPAN_MS) {
      this.#driftIsKnown = true;
      this.#driftBefore = this.#drift;
    }
    this.#offset = Math.min(...this.#buckets.map((b) => b.lateness - this.#drift * b.x));
  }
}

/** Slope of the edge of the lower convex hull over the points' mean. */
function envelopeSlope(points: readonly Bucket[]): number {
  const hull: Bucket[] = [];
  for (const point of points) {
    while (hull.length >= 2 && turnsDown(hull.at(-2)!, hull.at(-1)!, point)) hull.pop();
    hull.push(point);
  }
  const mean = points.reduce((sum, point) => sum + point.x, 0) / points.length;
  for (let i = 1; i < hull.length; i++) {
    const left = hull[i - 1]!;
    const right = hull[i]!;
    if (right.x >= mean) return (right.lateness - left.lateness) / (right.x - left.x);
  }
  return 0;
}

/** Whether the middle point lies on or above the line from the first to the last: no corner of the lower hull. */
function turnsDown(a: Bucket, b: Bucket, c: Bucket): boolean {
  return (b.lateness - a.lateness) * (c.x - a.x) >= (c.lateness - a.lateness) * (b.x - a.x);
}
