import { Random } from '../../../simulator/model/random.ts';
import { drawShape, stretchShape } from './lump-shapes.ts';
import type { Lump, StrandPlan, TrueLimits } from './strand-maker.ts';

/** Pitches, speeds and rates are spread evenly over their logarithms. */
const SPEED_MM_PER_S = [5, 100] as const;
const RATE_PER_S = [10, 500] as const;
/** Lumps this close to one another are one section by right, so they are kept further apart. */
const APART_MM = 60;

export interface Size {
  readonly readings: number;
  readonly lengthMm: number;
}

/** A strand with blobs, necks and stretches out of tolerance; every second seed is held out. */
export function drawStrandWithLumps(seed: number, limits: TrueLimits, size: Size): StrandPlan {
  const random = Random.stream(seed, 'plan');
  const line = drawLine(seed, random, size, random.between(0.005, 0.03));
  return { ...line, lumps: drawLumps(line, limits, random), glitchShare: 0 };
}

/** A good strand: σ = 0.015 mm, nothing on it. */
export function drawGoodStrand(seed: number, size: Size): StrandPlan {
  return drawLine(seed, Random.stream(seed, 'good plan'), size, 0.015);
}

/** A good strand seen by a gauge that sends garbage now and then. */
export function drawGlitchyStrand(seed: number, size: Size): StrandPlan {
  const random = Random.stream(seed, 'glitchy plan');
  return { ...drawLine(seed, random, size, 0.015), glitchShare: logBetween(random, 2e-5, 5e-4) };
}

/** A strand that drifts, or swings evenly, on a part of its length. */
export function drawTrendStrand(seed: number, limits: TrueLimits, size: Size): StrandPlan {
  const random = Random.stream(seed, 'trend plan');
  const line = drawLine(seed, random, size, random.between(0.008, 0.016));
  const fromMm = line.lengthMm * random.between(0.25, 0.45);
  const kind = (['drift', 'surge', 'runOut'] as const)[random.index(3)]!;
  if (kind === 'drift') {
    const changeMm = (random.chance(0.5) ? 1 : -1) * limits.toleranceMm * random.between(0.5, 1.2);
    return { ...line, trend: { kind, fromMm, toMm: fromMm + line.lengthMm * random.between(0.02, 0.25), changeMm } };
  }
  const amplitudeMm = limits.toleranceMm * random.between(0.35, 1);
  return { ...line, trend: { kind, fromMm, toMm: line.lengthMm * random.between(0.65, 0.9), amplitudeMm } };
}

function drawLine(seed: number, random: Random, size: Size, sigmaMm: number): StrandPlan {
  const speedMmPerS = logBetween(random, ...SPEED_MM_PER_S);
  const readingsPerS = logBetween(random, ...RATE_PER_S);
  return {
    seed,
    heldOut: seed % 2 === 1,
    lengthMm: Math.min(size.lengthMm, (size.readings * speedMmPerS) / readingsPerS),
    speedMmPerS,
    readingsPerS,
    meanMm: 1.75 + random.between(-0.012, 0.012),
    sigmaMm,
    // Half of its expanded uncertainty is the standard one.
    offsetMm: 0.0025 * Math.max(-2, Math.min(2, random.gaussian())),
    axes: random.chance(1 / 3) ? 2 : 1,
    averaging: random.chance(0.5),
    screwTurnS: random.between(1.2, 6),
    rollerMm: random.between(90, 260),
    glitchShare: 0,
    lumps: [],
    trend: null,
  };
}

function drawLumps(line: StrandPlan, limits: TrueLimits, random: Random): Lump[] {
  const pitchMm = line.speedMmPerS / line.readingsPerS;
  const lumps: Lump[] = [];
  let at = 300 + 50 * pitchMm;
  while (at < line.lengthMm - 300) {
    const what = random.unit();
    if (what < 0.04) {
      const lengthMm = random.between(450, 900) + 40 * pitchMm;
      lumps.push({
        kind: 'offTolerance',
        fromMm: at,
        lengthMm,
        heightMm: (random.chance(0.5) ? 1 : -1) * (limits.toleranceMm + random.between(0.03, 0.06)),
        shape: stretchShape(random.between(0.04, 0.2)),
        oneSided: 0,
      });
      at += lengthMm + APART_MM;
    } else {
      const blob = what < 0.72;
      const shape = drawShape(line.heldOut, random);
      // Their tops are from just at the limit to half a millimetre beyond it, most of them close to it.
      const beyondMm = 0.5 * random.unit() ** 2.2;
      const lengthMm = Math.max(2, pitchMm * random.between(2.5, 5)) + 30 * random.unit() ** 2;
      const lump: Lump = {
        kind: blob ? 'blob' : 'neck',
        fromMm: at,
        lengthMm,
        heightMm: blob
          ? limits.hotendLimitMm - line.meanMm + beyondMm
          : limits.smallestFeedableMm - line.meanMm - Math.min(beyondMm, 0.35),
        shape,
        oneSided: line.axes === 2 && random.chance(0.3) ? random.between(-0.5, 0.5) : 0,
      };
      lumps.push(lump);
      at += lengthMm;
      // The loop over-corrects: often a lack follows a blob, too small to be a neck.
      if (blob && random.chance(0.4)) {
        lumps.push({ ...lump, kind: 'neck', fromMm: at, heightMm: -random.between(0.03, 0.1), oneSided: 0 });
        at += lengthMm;
      }
    }
    at += APART_MM + 6 * pitchMm + random.exponential(250 + 60 * pitchMm);
  }
  return lumps;
}

function logBetween(random: Random, low: number, high: number): number {
  return low * (high / low) ** random.unit();
}
