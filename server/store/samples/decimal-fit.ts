/**
 * How the values of a column can be stored as integers. A sensor's text "1.752" became the nearest double, and 1752 / 10^3
 * gives exactly that double. A computed value (a mean of two axes, a factor from a setting) may be off its decimal by a few
 * units in the last place; the difference is stored too. Anything else stays a raw double.
 */
export interface DecimalFit {
  /** 'decimal': value = integer / 10^scale, exactly. 'near': the same with a correction of a few ulp. */
  readonly kind: 'decimal' | 'near' | 'raw';
  /** Decimal digits after the point. */
  readonly scale: number;
}

const SCALE_MAX = 12;
/** Beyond this, "near a decimal" means nothing. */
const NEAR_SCALE_MAX = 9;
/** Differences of integers up to this are exact. */
const INTEGER_MAX = 2 ** 50;
/** Corrections are at most this many units in the last place. */
const ULP_MAX = 15;

export const POWERS: readonly number[] = Array.from({ length: SCALE_MAX + 1 }, (_, s) => 10 ** s);

const RAW: DecimalFit = { kind: 'raw', scale: 0 };

/** The smallest decimal scale that fits all of the values; NaN is a gap and fits everywhere. */
export function fitDecimal(values: Float64Array, n: number): DecimalFit {
  let scale = 0;
  let power = 1;
  let near = false;
  for (let i = 0; i < n; i++) {
    const v = values[i]!;
    const m = Math.round(v * power);
    if (m / power === v && m < INTEGER_MAX && m > -INTEGER_MAX && (m !== 0 || Object.is(v, 0))) continue;
    if (Number.isNaN(v)) continue;
    if (near && isNear(v, m, power)) continue;
    const exact = exactScale(v, scale);
    if (exact >= 0) {
      scale = exact;
    } else {
      const close = nearScale(v, scale);
      if (close < 0) return RAW;
      near = true;
      scale = close;
    }
    power = POWERS[scale]!;
  }
  if (near && scale > NEAR_SCALE_MAX) return RAW;
  return { kind: near ? 'near' : 'decimal', scale };
}

function exactScale(v: number, from: number): number {
  if (v === 0) return Object.is(v, 0) ? from : -1;
  for (let s = from; s <= SCALE_MAX; s++) {
    const m = Math.round(v * POWERS[s]!);
    if (Math.abs(m) >= INTEGER_MAX) return -1;
    if (m / POWERS[s]! === v) return s;
  }
  return -1;
}

function nearScale(v: number, from: number): number {
  for (let s = from; s <= NEAR_SCALE_MAX; s++) {
    if (isNear(v, Math.round(v * POWERS[s]!), POWERS[s]!)) return s;
  }
  return -1;
}

function isNear(v: number, m: number, power: number): boolean {
  // 2^40 × 15 ulp stays far below one step of the decimal grid. 0 is left out: its sign would be lost.
  return m !== 0 && Math.abs(m) < 2 ** 40 && Math.abs(ulpsBetween(v, m / power)) <= ULP_MAX;
}

const doubles = new Float64Array(2);
const halves = new Uint32Array(doubles.buffer);

/** v − reference in units of the last place; NaN if their upper halves differ. */
export function ulpsBetween(v: number, reference: number): number {
  doubles[0] = v;
  doubles[1] = reference;
  // Little-endian machines only: the second half holds sign, exponent and upper fraction.
  return halves[1] === halves[3] ? halves[0]! - halves[2]! : Number.NaN;
}

/** The double that differs from the reference by this many units in the last place. */
export function shiftByUlps(reference: number, ulps: number): number {
  doubles[0] = reference;
  halves[0] = halves[0]! + ulps;
  return doubles[0]!;
}
