/** One point per second of device time is enough for a fit and bounds its cost. */
const BUCKET_MS = 1000;
const WINDOW_MS = 300_000;
const BUCKETS_MIN = 30;
/** An oscillator without a crystal is accurate to 10 %, so a line seems up to 11 % slow; common practice, no source. */
const DRIFT_MAX = 0.12;
/**
 * Spans at which a measured slope weighs as much as the drift assumed before (0, or the drift learnt). Over a shorter one it is
 * mostly jitter.
 */
const FIRST_SPAN_MS = 2500;
const LATER_SPAN_MS = 30_000;
/** Time constant and limits with which the returned times follow the fit. */
const FOLLOW_MS = 2000;
const FOLLOW_SLOPE = 0.02;
const FOLLOW_SLOPE_FAR = 0.5;
const FAR_MS = 100;
/** If every line of the last half minute is later than the fit by this, the device's clock had stopped for a while. */
const LEFT_BEHIND_MS = 1000;
/** Unless they arrived in less than this share of it: then they had waited, for example while this process was stopped. */
const AS_SENT_SHARE = 0.9;

interface Bucket {
  /** Device time since the start, ms. */
  x: number;
  /** Smallest delay in this second: arrival − device time, both since the start, ms. */
  lateness: number;
}

/**
 * Fits the device's clock to the service's: time = device time × (1 + drift) + offset.
 *
 * A line may arrive late (USB buffering, a busy service) but never early, so the true relation is the lower envelope of
 * arrival − device time: the highest straight line that is below all points. It is the edge of their lower convex hull over
 * their mean (S. B. Moon, P. Skelly, D. Towsley, "Estimation and removal of clock skew from network delay
 * measurements", IEEE INFOCOM 1999; from memory). Points older than five minutes are dropped, so that the fit follows
 * the oscillator's temperature.
 */
export class ClockFit {
  #deviceStart = 0;
  #arrivalStart = 0;
  #newest: Bucket = { x: 0, lateness: 0 };
  #buckets: Bucket[] = [this.#newest];
  #drift = 0;
  #driftIsKnown = false;
  #driftBefore = 0;
  #offset = 0;
  // The last returned time. It follows the fit smoothly, except after the device's clock stopped.
  #x = 0;
  #lateness = 0;

  /** Restart at a line. The drift learnt so far is kept, because the oscillator is the same. */
  start(deviceMs: number, arrivalMs: number): number {
    this.#deviceStart = deviceMs;
    this.#arrivalStart = arrivalMs;
    this.#newest = { x: 0, lateness: 0 };
    this.#buckets = [this.#newest];
    this.#offset = 0;
    this.#x = 0;
    this.#lateness = 0;
    return arrivalMs;
  }

  /** The clock by which arrivals are dated was set. */
  clockMoved(byMs: number): void {
    this.#arrivalStart += byMs;
  }

  /** The latest device time that a line arriving now can have: that of a line without any delay. */
  deviceMsAt(arrivalMs: number): number {
    return this.#deviceStart + (arrivalMs - this.#arrivalStart - this.#offset) / (1 + this.#drift);
  }

  /**
   * Add a line to the fit.
   * @returns its time on the server's clock, ms
   */
  add(deviceMs: number, arrivalMs: number): number {
    const x = deviceMs - this.#deviceStart;
    const lateness = arrivalMs - this.#arrivalStart - x;
    const newest = this.#newest;
    if (x - newest.x < BUCKET_MS) {
      if (lateness - this.#drift * (x - newest.x) < newest.lateness) {
        // The bucket keeps its place, so that it still ends after a second.
        newest.lateness = lateness - this.#drift * (x - newest.x);
      }
    } else {
      this.#refit();
      this.#newest = { x, lateness };
      this.#buckets.push(this.#newest);
    }
    // A line that arrives earlier than the fit allows proves that the offset is too large.
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
    const newest = this.#newest;
    const firstInWindow = this.#buckets.findIndex(({ x }) => newest.x - x <= WINDOW_MS);
    const tooOld = Math.min(firstInWindow, this.#buckets.length - BUCKETS_MIN);
    if (tooOld > 0) this.#buckets.splice(0, tooOld);
    let onTime = this.#buckets.filter((b) => b.lateness - this.#offset - this.#drift * b.x <= LEFT_BEHIND_MS);
    const recent = this.#buckets.slice(-BUCKETS_MIN);
    const isLate = this.#buckets.length > BUCKETS_MIN && !recent.some((b) => onTime.includes(b));
    if (isLate && arrivedAsSent(recent)) {
      this.#buckets = recent;
      onTime = recent;
    }
    // Lines that have waited say nothing about the drift until the last of them has arrived.
    const oldest = onTime[0] ?? newest;
    const span = (onTime.at(-1) ?? newest).x - oldest.x;
    const edge = envelopeSlope(onTime);
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

function arrivedAsSent(points: readonly Bucket[]): boolean {
  const first = points[0]!;
  const last = points.at(-1)!;
  const sentMs = last.x - first.x;
  return sentMs + last.lateness - first.lateness > AS_SENT_SHARE * sentMs;
}

/** Slope of the edge of the lower convex hull over the points' mean. */
function envelopeSlope(points: readonly Bucket[]): number {
  const hull: Bucket[] = [];
  for (const point of points) {
    let corner = hull.at(-1);
    let beforeIt = hull.at(-2);
    while (corner !== undefined && beforeIt !== undefined && isOnOrAbove(corner, beforeIt, point)) {
      hull.pop();
      corner = beforeIt;
      beforeIt = hull.at(-2);
    }
    hull.push(point);
  }
  const mean = points.reduce((sum, point) => sum + point.x, 0) / points.length;
  let left: Bucket | null = null;
  for (const right of hull) {
    if (left !== null && right.x >= mean) return (right.lateness - left.lateness) / (right.x - left.x);
    left = right;
  }
  return 0;
}

/** Whether a point is on or above the line from `a` to `b`, and so no corner of the lower hull. */
function isOnOrAbove(point: Bucket, a: Bucket, b: Bucket): boolean {
  return (point.lateness - a.lateness) * (b.x - a.x) >= (b.lateness - a.lateness) * (point.x - a.x);
}
