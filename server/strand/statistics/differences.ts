import { mean, sampleVariance } from 'simple-statistics';
import { studentHalfWidth, studentTwoSided } from '../../probability/student-t.ts';

/** A value with what is known of its error. */
export interface Uncertain {
  readonly value: number;
  readonly standardError: number;
  readonly degreesOfFreedom: number;
}

/** Second less first. */
export interface Difference {
  readonly difference: number;
  readonly lower: number;
  readonly upper: number;
  /** Chance of a difference at least as large, either way, were there none. */
  readonly p: number;
  readonly t: number;
  readonly degreesOfFreedom: number;
}

/** A value from repeats: their mean. Null below two. */
export function meanOfRepeats(values: readonly number[]): Uncertain | null {
  const n = values.length;
  if (n < 2) return null;
  return {
    value: mean([...values]),
    standardError: Math.sqrt(sampleVariance([...values]) / n),
    degreesOfFreedom: n - 1,
  };
}

/**
 * Two values whose errors differ: Welch's t with the degrees of freedom of Satterthwaite 1946 (Welch 1947, Biometrika
 * 34). Null where neither has any error: nothing can be said of chance then.
 */
export function welch(first: Uncertain, second: Uncertain, confidence = 0.95): Difference | null {
  const [a, b] = [first.standardError ** 2, second.standardError ** 2];
  if (!(a + b > 0)) return null;
  const degrees = (a + b) ** 2 / (a ** 2 / first.degreesOfFreedom + b ** 2 / second.degreesOfFreedom);
  return differenceOf(second.value - first.value, Math.sqrt(a + b), degrees, confidence);
}

/**
 * One value beside several of another kind, taking its own error for as large as theirs: t = (x − m)/(s √(1 + 1/n)) with
 * n − 1 degrees of freedom (Crawford & Howell 1998, The Clinical Neuropsychologist 12). Null where the several are one,
 * or all the same.
 */
export function oneAgainstSeveral(several: readonly number[], one: number, confidence = 0.95): Difference | null {
  const n = several.length;
  const of = meanOfRepeats(several);
  if (of === null || !(of.standardError > 0)) return null;
  const error = of.standardError * Math.sqrt(n) * Math.sqrt(1 + 1 / n);
  return differenceOf(one - of.value, error, of.degreesOfFreedom, confidence);
}

/** The interval that holds the true value with this confidence. */
export function intervalOf(
  { value, standardError, degreesOfFreedom }: Uncertain,
  confidence = 0.95,
): { readonly lower: number; readonly upper: number } {
  const half = standardError * studentHalfWidth(confidence, degreesOfFreedom);
  return { lower: value - half, upper: value + half };
}

/**
 * Chances of several questions asked at once, made larger so that the chance of one false finding among all of them stays
 * as it was for one (Holm 1979, Scand. J. Statist. 6). Null = a question without an answer; it does not count.
 */
export function holm(ps: readonly (number | null)[]): (number | null)[] {
  const asked = ps.flatMap((p, at) => (p === null ? [] : [{ p, at }])).sort((a, b) => a.p - b.p);
  const adjusted = ps.map((): number | null => null);
  let most = 0;
  asked.forEach(({ p, at }, rank) => {
    most = Math.max(most, Math.min(1, p * (asked.length - rank)));
    adjusted[at] = most;
  });
  return adjusted;
}

function differenceOf(difference: number, error: number, degrees: number, confidence: number): Difference {
  const half = error * studentHalfWidth(confidence, degrees);
  const t = difference / error;
  return {
    difference,
    lower: difference - half,
    upper: difference + half,
    p: studentTwoSided(t, degrees),
    t,
    degreesOfFreedom: degrees,
  };
}
