import { normalCdf } from '../../probability/distributions.ts';

/** What a measurement proves against a limit. */
export type Conformity = 'surelyWithin' | 'inDoubt' | 'surelyBeyond';

/**
 * How wide the guard band is. `expanded`: w = U, the expanded uncertainty (k = 2), the usual rule of ILAC-G8:09/2019 4.2.
 * `oneSided95`: w = 1.65 u = 0.825 U, the 95 % conformance probability that ISO 14253-1:2017 takes by default (factor from
 * memory). `simple`: w = 0, shared risk.
 */
export type GuardRule = 'expanded' | 'oneSided95' | 'simple';

/** Width of the guard band, mm, from the expanded uncertainty (k = 2). */
export function guardBand(expandedUncertaintyMm: number, rule: GuardRule = 'expanded'): number {
  if (!(expandedUncertaintyMm >= 0))
    throw new RangeError(`an uncertainty of ${expandedUncertaintyMm} mm has no meaning`);
  return rule === 'simple' ? 0 : rule === 'expanded' ? expandedUncertaintyMm : (1.65 / 2) * expandedUncertaintyMm;
}

/**
 * Against an upper limit: surely beyond only when even value − guard lies above it, surely within only when value + guard
 * does not (decision rule of ISO 14253-1).
 */
export function againstUpper(valueMm: number, limitMm: number, guardMm: number): Conformity {
  if (valueMm - guardMm > limitMm) return 'surelyBeyond';
  return valueMm + guardMm <= limitMm ? 'surelyWithin' : 'inDoubt';
}

/** Against a lower limit, the mirror image. */
function againstLower(valueMm: number, limitMm: number, guardMm: number): Conformity {
  if (valueMm + guardMm < limitMm) return 'surelyBeyond';
  return valueMm - guardMm >= limitMm ? 'surelyWithin' : 'inDoubt';
}

/** Against a band: beyond if beyond either limit, within only if within both. */
export function againstBand(valueMm: number, lowerMm: number, upperMm: number, guardMm: number): Conformity {
  if (!(lowerMm < upperMm)) throw new RangeError(`the limits ${lowerMm} and ${upperMm} mm are in the wrong order`);
  const low = againstLower(valueMm, lowerMm, guardMm);
  const high = againstUpper(valueMm, upperMm, guardMm);
  if (low === 'surelyBeyond' || high === 'surelyBeyond') return 'surelyBeyond';
  return low === 'surelyWithin' && high === 'surelyWithin' ? 'surelyWithin' : 'inDoubt';
}

/**
 * Probability that the true diameter lies between two limits, for a normally distributed error of standard uncertainty
 * U/2 and nothing known beforehand (JCGM 106:2012, 7.2). Either limit may be infinite.
 */
export function conformanceProbability(
  valueMm: number,
  lowerMm: number,
  upperMm: number,
  expandedUncertaintyMm: number,
): number {
  const u = expandedUncertaintyMm / 2;
  if (!(u > 0)) return valueMm >= lowerMm && valueMm <= upperMm ? 1 : 0;
  return share((upperMm - valueMm) / u) - share((lowerMm - valueMm) / u);
}

function share(z: number): number {
  if (z === Number.POSITIVE_INFINITY) return 1;
  return z === Number.NEGATIVE_INFINITY ? 0 : normalCdf(z);
}
