import { mean, sampleVariance } from 'simple-statistics';
import { studentHalfWidth, studentTwoSided } from '../../probability/student-t.ts';

/** A value and its error. */
export interface Uncertain {
  readonly value: number;
  readonly standardError: number;
  readonly degreesOfFreedom: number;
}

/** The second value minus the first. */
export interface Difference {
  readonly difference: number;
  readonly lower: number;
  readonly upper: number;
  /** Chance of a difference at least as large, in either direction, if there is none. */
  readonly p: number;
  readonly t: number;
  readonly degreesOfFreedom: number;
}

/** The mean of repeats; null for fewer than two. */
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
 * 34). Null where neither value has an error, because chance cannot be judged then.
 */
export function welch(first: Uncertain, second: Uncertain, confidence = 0.95): Difference | null {
  const [a, b] = [first.standardError ** 2, second.standardError ** 2];
  if (!(a + b > 0)) return null;
  const degrees = (a + b) ** 2 / (a ** 2 / first.degreesOfFreedom + b ** 2 / second.degreesOfFreedom);
  return differenceOf(
    { value: second.value - first.value, standardError: Math.sqrt(a + b), degreesOfFreedom: degrees },
    confidence,
  );
}

/**
 * Compares one value with several others, assuming the same spread for both: t = (x − m)/(s √(1 + 1/n)) with n − 1 degrees
 * of freedom (Crawford & Howell 1998, The Clinical Neuropsychologist 12). Null where there are fewer than two others, or
 * all are equal.
 */
export function oneAgainstSeveral(several: readonly number[], one: number, confidence = 0.95): Difference | null {
  const n = several.length;
  const others = meanOfRepeats(several);
  if (others === null || !(others.standardError > 0)) return null;
  const error = others.standardError * Math.sqrt(n) * Math.sqrt(1 + 1 / n);
  return differenceOf({ ...others, value: one - others.value, standardError: error }, confidence);
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
 * p-values of several tests made at once, adjusted so that the chance of any false finding among all of them is that of a
 * single test (Holm 1979, Scand. J. Statist. 6). Null = a test without a result; it does not count.
 */
export function holm(ps: readonly (number | null)[]): (number | null)[] {
  const tests = ps.flatMap((p, at) => (p === null ? [] : [{ p, at }])).sort((a, b) => a.p - b.p);
  const adjusted = ps.map((): number | null => null);
  let most = 0;
  tests.forEach(({ p, at }, rank) => {
    most = Math.max(most, Math.min(1, p * (tests.length - rank)));
    adjusted[at] = most;
  });
  return adjusted;
}

/** A difference, by its error. */
export function differenceOf(uncertain: Uncertain, confidence = 0.95): Difference {
  const { value, standardError, degreesOfFreedom } = uncertain;
  const t = value / standardError;
  return {
    difference: value,
    ...intervalOf(uncertain, confidence),
    p: studentTwoSided(t, degreesOfFreedom),
    t,
    degreesOfFreedom,
  };
}
