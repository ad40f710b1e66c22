import type { LengthCorrection } from '../entities/spool.ts';
import type { Examination } from '../monitor/analysis/spool-analysis.ts';
import type { StrandSteadiness } from '../monitor/analysis/strand-figures.ts';
import type { JamOnSpool } from '../monitor/spool/jam-on-spool.ts';
import type { Judgement } from '../monitor/spool/judgement.ts';
import { lengthScaleOf } from '../monitor/spool/length-service.ts';
import { isWinding, positionMm } from '../monitor/spool/wound-spool.ts';
import type { Advice } from '../strand/advice.ts';
import { figureReasons } from '../strand/verdict/spool-verdict.ts';
import { frameOf, sectionView } from './views.ts';

/** The judgement of a spool as the API returns it. */
export function judgementView<Mass>(
  judged: Judgement,
  examination: Examination,
  also: { readonly advice: readonly Advice[]; readonly jam: JamOnSpool; readonly mass: Mass },
) {
  const { woundSpool, by, limits, verdict } = judged;
  const { statistics, flow } = examination;
  const frame = frameOf(judged);
  const reasons = figureReasons(statistics?.tolerance.within ?? null, limits.toleranceMm, flow);
  return {
    spoolId: woundSpool.spool.id,
    name: woundSpool.name,
    winding: isWinding(woundSpool),
    judgedBy: by.kind,
    printer: by.kind === 'printer' ? by.printer : null,
    printerName: judged.printerName,
    limits,
    woundMm: judged.woundMm,
    woundUncertaintyMm: judged.woundMm * woundSpool.scale.share,
    lengthScale: lengthScaleView(woundSpool.correction),
    sampling: { readings: examination.readings, meanPitchMm: examination.meanPitchMm },
    sections: judged.sections.map((section) => sectionView(section, frame, null)),
    totals: judged.totals,
    verdict: verdict && { ...verdict, reasons: [...verdict.reasons, ...reasons] },
    warnings: judged.warnings,
    figuresToMm: positionMm(woundSpool, examination.toGaugeMm),
    flow,
    jam: also.jam,
    statistics: statisticsView(examination),
    advice: also.advice.map((advice) => adviceView(advice, judged)),
    mass: also.mass,
  };
}

export function lengthScaleView(correction: LengthCorrection | null) {
  return { ...lengthScaleOf(correction), measured: correction };
}

function adviceView(advice: Advice, { woundSpool }: Judgement) {
  const trueMm = (gaugeMm: number | null) => (gaugeMm === null ? null : positionMm(woundSpool, gaugeMm));
  return { ...advice, fromMm: trueMm(advice.fromMm), toMm: trueMm(advice.toMm) };
}

function statisticsView({ statistics, ovality }: Examination) {
  if (statistics === null) return null;
  const { individuals, tolerance } = statistics;
  return {
    ...statistics,
    measuredMm: tolerance.measuredMm,
    individuals: { ...individuals, effectiveForMean: individuals.forMean, effectiveForSd: individuals.forSd },
    ovality,
  };
}

export function steadinessView({ change, stepMm, atMm, meanMm, ...chart }: StrandSteadiness) {
  const { sums, target, decision, finding, smallestStep } = chart;
  return {
    finding,
    change: change && {
      // A step is between two points.
      atMm: ((atMm[change.index - 1] ?? 0) + (atMm[change.index] ?? 0)) / 2,
      uncertaintyMm: change.indexUncertainty * stepMm,
      beforeMm: change.before,
      afterMm: change.after,
    },
    stepMm,
    atMm,
    meanMm,
    targetMm: target,
    sumMm: sums,
    decisionMm: decision,
    smallestStepMm: smallestStep,
  };
}
