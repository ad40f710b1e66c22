import { guardBand } from '../conformity/decision-rule.ts';
import type { PlanStretch } from '../plan/cut-request.ts';
import { checkPrinterProfile, type PrinterProfile } from './printer-profile.ts';

export interface TraceJudgement {
  readonly lengthMm: number;
  /** Never measured: gaps in the data and samples without a value. */
  readonly unknownMm: number;
  /** Surely too thick or too thin for the printer, and in doubt within the gauge's uncertainty. */
  readonly beyondMm: number;
  readonly inDoubtMm: number;
  /** Surely thicker than the hotend limit, counted as stretches: what jams. */
  readonly oversizeCount: number;
  /** Feedable, but outside the tolerance wanted. */
  readonly offToleranceMm: number;
  /** Ready for `planCuts`; the kinds are blob, neck and unknown. Neighbours of one kind and fate are one stretch. */
  readonly stretches: readonly PlanStretch[];
}

export interface JudgeOptions {
  readonly nominalMm: number;
  /** Expanded uncertainty (k = 2) of the gauge. */
  readonly gaugeUncertaintyMm: number;
  /** Two samples further apart than this have a gap between them; default: 5 × the mean pitch. */
  readonly longestPitchMm?: number;
  /** Stretches nearer than this are one; default 0. */
  readonly mergeWithinMm?: number;
}

interface Open {
  fromMm: number;
  toMm: number;
  kind: 'blob' | 'neck';
  peakMm: number;
  peakAtMm: number;
}

/**
 * Judges a whole trace against a printer, sample by sample with the decision rule of ISO 14253-1: a stretch where at least
 * one sample is surely beyond a limit goes whole, doubtful edges included; one that is only ever in doubt is doubtful.
 * Single readings are taken at their word here; notification glitches from blobs is the detector's work.
 *
 * @param lengthMm spool positions, never falling
 * @param diameterMm NaN = no value
 */
export function judgeTrace(
  lengthMm: ArrayLike<number>,
  diameterMm: ArrayLike<number>,
  profile: PrinterProfile,
  options: JudgeOptions,
): TraceJudgement {
  checkPrinterProfile(profile, options.nominalMm);
  const n = lengthMm.length;
  const total = n < 2 ? 0 : lengthMm[n - 1]! - lengthMm[0]!;
  const longestPitchMm = options.longestPitchMm ?? (n < 2 ? 0 : (5 * total) / (n - 1));
  const mergeWithinMm = options.mergeWithinMm ?? 0;
  const guardMm = guardBand(options.gaugeUncertaintyMm);
  const { hotendLimitMm, leastFeedableMm } = profile;
  // A value above this is not surely below the hotend limit; the mirror image for the least feedable one.
  const doubtAbove = hotendLimitMm - guardMm;
  const doubtBelow = leastFeedableMm + guardMm;
  const offAbove = options.nominalMm + profile.toleranceMm;
  const offBelow = options.nominalMm - profile.toleranceMm;

  const stretches: PlanStretch[] = [];
  let unknownMm = 0;
  let beyondMm = 0;
  let inDoubtMm = 0;
  let offToleranceMm = 0;
  let oversizeCount = 0;
  const running: { open: Open | null } = { open: null };
  let unknownFrom = Number.NaN;

  const close = (): void => {
    if (running.open === null) return;
    const { fromMm, toMm, kind, peakMm, peakAtMm } = running.open;
    const sure = kind === 'blob' ? peakMm - guardMm > hotendLimitMm : peakMm + guardMm < leastFeedableMm;
    if (sure) beyondMm += toMm - fromMm;
    else inDoubtMm += toMm - fromMm;
    if (sure && kind === 'blob') oversizeCount += 1;
    stretches.push({ fromMm, toMm, fate: sure ? 'discard' : 'doubtful', kind, peakMm, peakAtMm });
    running.open = null;
  };
  const closeUnknown = (toMm: number): void => {
    if (Number.isNaN(unknownFrom)) return;
    unknownMm += toMm - unknownFrom;
    if (toMm > unknownFrom) stretches.push({ fromMm: unknownFrom, toMm, fate: 'unknown', kind: 'unknown' });
    unknownFrom = Number.NaN;
  };

  for (let i = 0; i < n; i++) {
    const at = lengthMm[i]!;
    const before = i === 0 ? at : lengthMm[i - 1]!;
    const after = i === n - 1 ? at : lengthMm[i + 1]!;
    if (after < at) throw new RangeError(`sample ${i + 1} lies ${at - after} mm before the sample ahead of it`);
    // The sample speaks for half the way to each neighbour, and for nothing across a gap.
    const from = at - before > longestPitchMm ? at : (at + before) / 2;
    const to = after - at > longestPitchMm ? at : (at + after) / 2;
    const d = diameterMm[i]!;
    if (!Number.isFinite(d)) {
      close();
      if (Number.isNaN(unknownFrom)) unknownFrom = from;
    } else {
      closeUnknown(from);
      const kind = d > doubtAbove ? 'blob' : d < doubtBelow ? 'neck' : null;
      if (d > offAbove || d < offBelow) offToleranceMm += to - from;
      const stretch = running.open;
      if (kind === null) {
        if (stretch !== null && from - stretch.toMm >= mergeWithinMm) close();
      } else if (stretch?.kind === kind && from - stretch.toMm <= mergeWithinMm) {
        stretch.toMm = to;
        if (kind === 'blob' ? d > stretch.peakMm : d < stretch.peakMm) {
          stretch.peakMm = d;
          stretch.peakAtMm = at;
        }
      } else {
        close();
        running.open = { fromMm: from, toMm: to, kind, peakMm: d, peakAtMm: at };
      }
    }
    if (after - at > longestPitchMm) {
      close();
      if (Number.isNaN(unknownFrom)) unknownFrom = to;
    }
  }
  close();
  if (n > 0) closeUnknown(lengthMm[n - 1]!);
  return { lengthMm: total, unknownMm, beyondMm, inDoubtMm, oversizeCount, offToleranceMm, stretches };
}
