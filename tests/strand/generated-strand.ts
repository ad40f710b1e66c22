import { normal, seeded } from '../chance.ts';

/** Strand generated for tests: a slow swing, noise, and lumps of known shapes at known places. */

type LumpShape = 'cosine' | 'flat' | 'skew' | 'triangle';

export interface Lump {
  readonly atMm: number;
  /** Whole length from foot to foot. */
  readonly lengthMm: number;
  /** Height over the strand; negative = a neck. */
  readonly heightMm: number;
  readonly shape: LumpShape;
}

/** Height of a lump at a place, mm. */
function lumpAt(lump: Lump, atMm: number): number {
  const u = (atMm - lump.atMm) / (lump.lengthMm / 2);
  if (u <= -1 || u >= 1) return 0;
  switch (lump.shape) {
    case 'cosine':
      return (lump.heightMm * (1 + Math.cos(Math.PI * u))) / 2;
    case 'triangle':
      return lump.heightMm * (1 - Math.abs(u));
    case 'flat':
      // A quarter of each side is flank.
      return lump.heightMm * Math.min(1, (1 - Math.abs(u)) * 4);
    case 'skew': {
      // Steep flank first, long one after: the peak is at −0.5.
      const w = u < -0.5 ? (u + 0.5) / 0.5 : (u + 0.5) / 1.5;
      return (lump.heightMm * (1 + Math.cos(Math.PI * w))) / 2;
    }
  }
}

export interface StrandRecipe {
  readonly seed: number;
  readonly lengthMm: number;
  readonly speedMmPerS: number;
  readonly readingsPerS: number;
  readonly meanMm?: number;
  readonly noiseMm?: number;
  readonly swingMm?: number;
  readonly swingLengthMm?: number;
  readonly lumps?: readonly Lump[];
  /** Share of lone readings that are garbage. */
  readonly glitchShare?: number;
  readonly startMs?: number;
}

export interface GeneratedStrand {
  readonly timeMs: Float64Array;
  readonly gaugeMm: Float64Array;
  readonly diameterMm: Float64Array;
  /** The diameter without noise and glitches. */
  readonly trueMm: Float64Array;
  readonly glitches: number;
}

export function generateStrand(recipe: StrandRecipe): GeneratedStrand {
  const pitch = recipe.speedMmPerS / recipe.readingsPerS;
  const n = Math.floor(recipe.lengthMm / pitch);
  const random = seeded(recipe.seed);
  const gauss = normal(random);
  const mean = recipe.meanMm ?? 1.75;
  const noise = recipe.noiseMm ?? 0.015;
  const swing = recipe.swingMm ?? 0;
  const swingLength = recipe.swingLengthMm ?? 1000;
  const lumps = [...(recipe.lumps ?? [])].sort((a, b) => a.atMm - b.atMm);
  const timeMs = new Float64Array(n);
  const gaugeMm = new Float64Array(n);
  const diameterMm = new Float64Array(n);
  const trueMm = new Float64Array(n);
  const phase = random();
  let glitches = 0;
  for (let i = 0; i < n; i++) {
    const at = (i + phase) * pitch;
    while (lumps[0] !== undefined && lumps[0].atMm + lumps[0].lengthMm < at) lumps.shift();
    let d = mean + swing * Math.sin((2 * Math.PI * at) / swingLength);
    for (const lump of lumps) {
      if (lump.atMm - 60 >= at) break;
      d += lumpAt(lump, at);
    }
    trueMm[i] = d;
    timeMs[i] = (recipe.startMs ?? 1_700_000_000_000) + (1000 * i) / recipe.readingsPerS;
    gaugeMm[i] = at;
    const glitch = recipe.glitchShare !== undefined && random() < recipe.glitchShare;
    if (glitch) glitches++;
    diameterMm[i] = d + noise * gauss() + (glitch ? 0.25 + 1.5 * random() : 0);
  }
  return { timeMs, gaugeMm, diameterMm, trueMm, glitches };
}

/** Where a lump on strand of `meanMm` crosses a limit, found by bisection; null = it does not. */
export function crossings(lump: Lump, meanMm: number, limitMm: number): { fromMm: number; toMm: number } | null {
  const side = Math.sign(lump.heightMm);
  const beyond = (at: number) => side * (meanMm + lumpAt(lump, at) - limitMm) > 0;
  const peak = lump.shape === 'skew' ? lump.atMm - lump.lengthMm / 4 : lump.atMm;
  if (!beyond(peak)) return null;
  const edge = (outer: number) => {
    let inside = peak;
    let outside = outer;
    for (let i = 0; i < 50; i++) {
      const middle = (inside + outside) / 2;
      if (beyond(middle)) inside = middle;
      else outside = middle;
    }
    return (inside + outside) / 2;
  };
  return {
    fromMm: edge(lump.atMm - lump.lengthMm / 2),
    toMm: edge(lump.atMm + lump.lengthMm / 2),
  };
}
