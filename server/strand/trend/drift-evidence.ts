import { changeEvidence } from '../statistics/change-evidence.ts';

/** Metres are joined into at most this many means. */
const MEANS_MAX = 100;
/** Fewer say nothing about wander. */
const MEANS_MIN = 10;

interface Metre {
  readonly fromMm: number;
  readonly toMm: number;
  readonly meanMm: number;
}

/**
 * How much better a drift since a place explains successive metres than wander does: one that continues, or one that
 * ended halfway, whichever fits better.
 */
export function driftEvidence(metres: readonly Metre[], sinceMm: number): number {
  const joined = Math.ceil(metres.length / MEANS_MAX);
  const count = Math.floor(metres.length / joined);
  if (count < MEANS_MIN) return 0;
  const halfMm = (metres.at(-1)!.toMm - sinceMm) / 2;
  // The first metres are left out where they do not make a whole mean: the last ones matter more.
  const first = metres.length - count * joined;
  const means = (of: (metre: Metre) => number) =>
    Float64Array.from({ length: count }, (_, k) => {
      const part = metres.slice(first + k * joined, first + (k + 1) * joined);
      return part.reduce((sum, metre) => sum + of(metre), 0) / joined;
    });
  const pastMm = ({ toMm }: Metre) => Math.max(0, toMm - sinceMm);
  const values = means(({ meanMm }) => meanMm);
  const continuing = changeEvidence(values, means(pastMm));
  const ended = changeEvidence(
    values,
    means((metre) => Math.min(pastMm(metre), halfMm)),
  );
  return Math.max(continuing, ended);
}
