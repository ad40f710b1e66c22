import { Random } from '../../../simulator/model/random.ts';
import type { LumpShape } from './lump-shapes.ts';

/**
 * Makes strand much faster than the simulator does, with statistics like those of its strand: white noise of
 * the gauge, fine texture, slow wander of the feed, the screw's surge, the roller's run-out, a swinging speed. It shares no code
 * with the detector and knows the truth from the noiseless strand.
 */

/** Something on the strand, from foot to foot. */
export interface Lump {
  readonly kind: 'blob' | 'neck' | 'offTolerance';
  readonly fromMm: number;
  readonly lengthMm: number;
  /** Difference from the strand at its highest place, mm; negative = thin. */
  readonly heightMm: number;
  readonly shape: LumpShape;
  /** With two axes: one sees (1 + this) of it, the other (1 − this). */
  readonly oneSided: number;
}

/** What a lump (a thick spot, beyond a limit or not) really is, compared with the limits. */
export interface LumpTruth {
  readonly lump: Lump;
  readonly limitMm: number;
  /** First and last place beyond the limit, mm; NaN = nowhere. */
  fromMm: number;
  toMm: number;
  /** Where, before the first place and behind the last, the strand is no longer within the gauge's doubt of the limit, mm. */
  outerFromMm: number;
  outerToMm: number;
  /** Longest piece beyond the limit without a break, mm. */
  longestMm: number;
  /** Furthest beyond the limit, mm. */
  beyondMm: number;
}

/** Something of the whole strand between two places. */
type Trend =
  /** The mean leaves its level by `changeMm`, evenly over the stretch, and stays there. */
  | { readonly kind: 'drift'; readonly fromMm: number; readonly toMm: number; readonly changeMm: number }
  /** The screw's surge (in time) or the roller's run-out (in length) swings by ± this more. */
  | {
      readonly kind: 'surge' | 'runOut';
      readonly fromMm: number;
      readonly toMm: number;
      readonly amplitudeMm: number;
    };

export interface StrandPlan {
  readonly seed: number;
  readonly heldOut: boolean;
  readonly lengthMm: number;
  readonly speedMmPerS: number;
  readonly readingsPerS: number;
  readonly meanMm: number;
  /** Standard deviation of the readings, all causes together. */
  readonly sigmaMm: number;
  /** Error of the gauge that stays, mm. */
  readonly offsetMm: number;
  readonly axes: 1 | 2;
  /** Each reading is the mean over the strand since the one before; otherwise a look at one point. */
  readonly averaging: boolean;
  readonly screwTurnS: number;
  readonly rollerMm: number;
  /** Share of readings that are garbage. */
  readonly glitchShare: number;
  readonly lumps: readonly Lump[];
  readonly trend: Trend | null;
}

export interface TrueLimits {
  readonly nominalMm: number;
  readonly toleranceMm: number;
  readonly hotendLimitMm: number;
  readonly smallestFeedableMm: number;
}

export interface MadeStrand {
  readonly timeMs: Float64Array;
  readonly gaugeMm: Float64Array;
  readonly diameterMm: Float64Array;
  readonly outOfRoundMm: Float64Array | null;
  readonly truth: readonly LumpTruth[];
  readonly glitchAtMm: readonly number[];
}

/**
 * How the variance of the readings divides, about as in the simulator's good run; `npm run bench -- detection` prints
 * both side by side.
 */
export const SHARE = { white: 0.33, texture: 0.14, wander: 0.36, surge: 0.12, runOut: 0.05 };
export const TEXTURE_S = 0.08;
const WANDER_S = 12;
const WANDER_STEP_S = 0.1;
const OVALITY_SHARE = 0.004;
/** Points between two readings at which the strand is looked at near a lump. */
const FINE = 8;
/** U of the gauge, and its lasting error of up to U: so near to a limit nothing is surely within it. */
export const DOUBT_MM = 0.01;
/** A stretch out of tolerance may begin before its foot, and end behind it, where the strand around it is near the limit itself. */
const REACH_MM = 500;
const SPEED_SWING_SHARE = 0.02;
const SPEED_SWING_S = 45;
/** The device prints micrometres. */
const perMicrometre = (mm: number) => Math.round(mm * 1000) / 1000;

/** Buffers for strands that are made one after the other. */
export class StrandMaker {
  readonly #timeMs: Float64Array;
  readonly #gaugeMm: Float64Array;
  readonly #diameterMm: Float64Array;
  readonly #outOfRoundMm: Float64Array;

  constructor(mostReadings: number) {
    this.#timeMs = new Float64Array(mostReadings);
    this.#gaugeMm = new Float64Array(mostReadings);
    this.#diameterMm = new Float64Array(mostReadings);
    this.#outOfRoundMm = new Float64Array(mostReadings);
  }

  /** The arrays are used again for the next strand. */
  make(plan: StrandPlan, limits: TrueLimits): MadeStrand {
    const { speedMmPerS, readingsPerS, sigmaMm, meanMm, axes } = plan;
    const random = Random.stream(plan.seed, 'strand');
    const pitchMm = speedMmPerS / readingsPerS;
    const n = Math.min(this.#timeMs.length, Math.floor(plan.lengthMm / pitchMm));
    const whiteMm = sigmaMm * Math.sqrt(SHARE.white);
    const textureMm = sigmaMm * Math.sqrt(SHARE.texture);
    const wanderMm = sigmaMm * Math.sqrt(SHARE.wander);
    const surgeMm = sigmaMm * Math.sqrt(2 * SHARE.surge);
    const runOutMm = sigmaMm * Math.sqrt(2 * SHARE.runOut);
    const stepS = 1 / readingsPerS;
    const textureKeep = Math.exp(-stepS / TEXTURE_S);
    const textureKick = Math.sqrt(1 - textureKeep ** 2);
    // The simulator's feed is as slow.
    const wanderEvery = Math.max(1, Math.round(WANDER_STEP_S / stepS));
    const wanderKeep = Math.exp((-wanderEvery * stepS) / WANDER_S);
    const wanderKick = Math.sqrt(1 - wanderKeep ** 2);
    const surge = new Swing(random, stepS / plan.screwTurnS);
    const runOut = new Swing(random, pitchMm / plan.rollerMm);
    const speed = new Swing(random, stepS / SPEED_SWING_S);
    const ovalMm = axes === 2 ? OVALITY_SHARE * meanMm * random.unit() : 0;
    let texture = random.gaussian();
    let wander = random.gaussian();
    let at = pitchMm * random.unit();

    const watch = new LumpWatch(plan.lumps, limits);
    const glitchAtMm: number[] = [];
    const { timeMs, gaugeMm, diameterMm, outOfRoundMm } = this.#arrays(n);
    for (let i = 0; i < n; i++) {
      texture = textureKeep * texture + textureKick * random.gaussian();
      if (i % wanderEvery === 0) wander = wanderKeep * wander + wanderKick * random.gaussian();
      const screw = surge.step();
      const roller = runOut.step();
      const slow =
        meanMm + wanderMm * wander + surgeMm * screw + runOutMm * roller + trendAt(plan.trend, at, screw, roller);
      const advance = pitchMm * (1 + SPEED_SWING_SHARE * speed.step());
      at += advance;
      let mean = slow + textureMm * texture;
      let halfDifference = ovalMm;
      if (watch.near(at - advance, at)) {
        watch.look(at - advance, at, slow, ovalMm, plan.averaging);
        mean += watch.meanMm;
        halfDifference += watch.halfDifferenceMm;
      }
      let x = mean + halfDifference + plan.offsetMm + whiteMm * random.gaussian();
      let y = axes === 2 ? mean - halfDifference + plan.offsetMm + whiteMm * random.gaussian() : x;
      if (plan.glitchShare > 0 && random.chance(plan.glitchShare)) {
        // One axis, or the only one, is garbage for a single reading.
        glitchAtMm.push(at);
        x += random.between(0.25, 1.75);
        if (axes === 1) y = x;
      }
      timeMs[i] = 1000 * i * stepS;
      gaugeMm[i] = at;
      diameterMm[i] = perMicrometre((x + y) / 2);
      outOfRoundMm[i] = perMicrometre(Math.abs(x - y));
    }
    return {
      timeMs,
      gaugeMm,
      diameterMm,
      outOfRoundMm: axes === 2 ? outOfRoundMm : null,
      truth: watch.truth(at),
      glitchAtMm,
    };
  }

  #arrays(n: number) {
    return {
      timeMs: this.#timeMs.subarray(0, n),
      gaugeMm: this.#gaugeMm.subarray(0, n),
      diameterMm: this.#diameterMm.subarray(0, n),
      outOfRoundMm: this.#outOfRoundMm.subarray(0, n),
    };
  }
}

function trendAt(trend: Trend | null, atMm: number, screw: number, roller: number): number {
  if (trend === null || atMm < trend.fromMm) return 0;
  if (trend.kind === 'drift') {
    return trend.changeMm * Math.min(1, (atMm - trend.fromMm) / (trend.toMm - trend.fromMm));
  }
  return atMm > trend.toMm ? 0 : trend.amplitudeMm * (trend.kind === 'surge' ? screw : roller);
}

/** A sine of unit amplitude, turned on by a fixed angle each step. */
class Swing {
  #sin: number;
  #cos: number;
  readonly #turnSin: number;
  readonly #turnCos: number;

  constructor(random: Random, turns: number) {
    const phase = 2 * Math.PI * random.unit();
    this.#sin = Math.sin(phase);
    this.#cos = Math.cos(phase);
    this.#turnSin = Math.sin(2 * Math.PI * turns);
    this.#turnCos = Math.cos(2 * Math.PI * turns);
  }

  step(): number {
    const sin = this.#sin * this.#turnCos + this.#cos * this.#turnSin;
    this.#cos = this.#cos * this.#turnCos - this.#sin * this.#turnSin;
    this.#sin = sin;
    return sin;
  }
}

interface WatchedLump extends LumpTruth {
  readonly lookFromMm: number;
  readonly lookToMm: number;
  /** Where the strand went beyond the limit, or within the gauge's doubt of it, and has stayed since. */
  runFromMm: number;
  doubtFromMm: number;
}

/** Adds the lumps to the strand, and keeps what each of them is in truth. */
class LumpWatch {
  readonly #all: readonly WatchedLump[];
  #first = 0;
  /** What the lumps add to the mean diameter of the last look, and to half the difference of the axes, mm. */
  meanMm = 0;
  halfDifferenceMm = 0;

  constructor(lumps: readonly Lump[], limits: TrueLimits) {
    this.#all = lumps
      .map((lump) => ({
        lump,
        limitMm: limitOf(lump, limits),
        lookFromMm: lump.fromMm - reachOf(lump),
        lookToMm: endOf(lump) + reachOf(lump),
        fromMm: Number.NaN,
        toMm: Number.NaN,
        outerFromMm: Number.NaN,
        outerToMm: Number.NaN,
        longestMm: 0,
        beyondMm: Number.NEGATIVE_INFINITY,
        runFromMm: Number.NaN,
        doubtFromMm: Number.NaN,
      }))
      .sort((a, b) => a.lookFromMm - b.lookFromMm);
  }

  near(fromMm: number, toMm: number): boolean {
    while (this.#first < this.#all.length && this.#all[this.#first]!.lookToMm <= fromMm) this.#first++;
    const next = this.#all[this.#first];
    return next !== undefined && next.lookFromMm < toMm;
  }

  look(fromMm: number, toMm: number, slowMm: number, ovalMm: number, averaging: boolean): void {
    let mean = 0;
    let difference = 0;
    for (let k = 1; k <= FINE; k++) {
      const at = fromMm + ((toMm - fromMm) * k) / FINE;
      let here = 0;
      let apart = 0;
      for (let j = this.#first; j < this.#all.length && this.#all[j]!.lookFromMm < at; j++) {
        const { lump } = this.#all[j]!;
        const height = heightAt(lump, at);
        here += height;
        apart += height * lump.oneSided;
      }
      for (let j = this.#first; j < this.#all.length && this.#all[j]!.lookFromMm < at; j++) {
        const one = this.#all[j]!;
        if (at <= one.lookToMm) this.#compare(one, at, slowMm + here, Math.abs(ovalMm + apart));
      }
      if (averaging) {
        mean += here / FINE;
        difference += apart / FINE;
      } else {
        mean = here;
        difference = apart;
      }
    }
    this.meanMm = mean;
    this.halfDifferenceMm = difference;
  }

  /** Those that passed the gauge whole. */
  truth(endMm: number): readonly LumpTruth[] {
    return this.#all.filter(({ lump }) => endOf(lump) < endMm);
  }

  #compare(one: WatchedLump, atMm: number, meanMm: number, halfDifferenceMm: number): void {
    const { kind, heightMm } = one.lump;
    // The bore passes no mean: a blob counts by its larger axis.
    const seenMm = kind === 'blob' ? meanMm + halfDifferenceMm : meanMm;
    const beyond = Math.sign(heightMm) * (seenMm - one.limitMm);
    const isOnLump = atMm >= one.lump.fromMm && atMm <= endOf(one.lump);
    if (isOnLump && beyond > one.beyondMm) one.beyondMm = beyond;
    if (beyond <= -DOUBT_MM) one.doubtFromMm = Number.NaN;
    else if (Number.isNaN(one.doubtFromMm)) one.doubtFromMm = atMm;
    // Still in doubt since the last place beyond: no one can know that it has ended.
    if (one.doubtFromMm <= one.toMm) one.outerToMm = atMm;
    if (!isOnLump) return;
    if (beyond <= 0) {
      one.runFromMm = Number.NaN;
      return;
    }
    if (Number.isNaN(one.fromMm)) {
      one.fromMm = atMm;
      one.outerFromMm = one.doubtFromMm;
    }
    one.outerToMm = atMm;
    if (Number.isNaN(one.runFromMm)) one.runFromMm = atMm;
    one.toMm = atMm;
    one.longestMm = Math.max(one.longestMm, atMm - one.runFromMm);
  }
}

/** The limit that a lump goes beyond, if it is high enough. */
function limitOf({ kind, heightMm }: Lump, limits: TrueLimits): number {
  if (kind === 'blob') return limits.hotendLimitMm;
  if (kind === 'neck') return limits.smallestFeedableMm;
  return limits.nominalMm + Math.sign(heightMm) * limits.toleranceMm;
}

const reachOf = ({ kind }: Lump): number => (kind === 'offTolerance' ? REACH_MM : 0);
const endOf = (lump: Lump): number => lump.fromMm + lump.lengthMm;

function heightAt(lump: Lump, atMm: number): number {
  const share = (atMm - lump.fromMm) / lump.lengthMm;
  return share <= 0 || share >= 1 ? 0 : lump.heightMm * lump.shape(share);
}
