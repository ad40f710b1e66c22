import type { Examination } from '../monitor/analysis/spool-analysis.ts';
import type { StrandCharts } from '../monitor/analysis/strand-figures.ts';
import type { JamOnSpool } from '../monitor/spool/jam-on-spool.ts';
import type { Judgement } from '../monitor/spool/judgement.ts';
import { isWinding, positionMm } from '../monitor/spool/wound-spool.ts';
import type { Advice } from '../strand/advice.ts';
import type { IndexEstimate } from '../strand/statistics/capability.ts';
import { figureReasons } from '../strand/verdict/spool-verdict.ts';
import type { AdviceView } from './contract.ts';
import type { ChartsView, JamView, MassView, SpoolJudgement, StatisticsView } from './spool-contract.ts';
import { flowView, lengthScaleView, listOf, listOrNulls, printerView } from './spool-numbers.ts';
import { frameOf, round, roundOrNull, sectionView, verdictView } from './views.ts';

export function judgementView(
  judged: Judgement,
  examination: Examination,
  also: { readonly advice: readonly Advice[]; readonly jam: JamOnSpool; readonly mass: MassView },
): SpoolJudgement {
  const { on, by, limits, totals, verdict } = judged;
  const { statistics, flow } = examination;
  const frame = frameOf(judged);
  const reasons = figureReasons(statistics?.tolerance.within ?? null, limits.toleranceMm, flow);
  return {
    spoolId: on.spool.id,
    name: on.name,
    winding: isWinding(on),
    judgedBy: by.kind,
    printer: by.kind === 'printer' ? printerView(by.printer) : null,
    printerName: judged.printerName,
    limits: {
      nominalMm: limits.nominalMm,
      toleranceMm: limits.toleranceMm,
      hotendLimitMm: limits.hotendLimitMm,
      leastFeedableMm: limits.leastFeedableMm,
      gaugeUncertaintyMm: limits.gaugeUncertaintyMm,
    },
    woundMm: round(judged.woundMm, 1),
    woundUncertaintyMm: round(judged.woundMm * on.scale.share, 1),
    lengthScale: lengthScaleView(on.correction),
    sampling: { readings: examination.readings, meanPitchMm: roundOrNull(examination.meanPitchMm, 4) },
    sections: judged.sections.map((section) => sectionView(section, frame, null)),
    totals: {
      discardMm: round(totals.discardMm, 1),
      doubtfulMm: round(totals.doubtfulMm, 1),
      unknownMm: round(totals.unknownMm, 1),
      goodMm: round(totals.goodMm, 1),
    },
    verdict: verdict === null ? null : { ...verdictView(verdict), reasons: [...verdict.reasons, ...reasons] },
    warnings: [...judged.warnings],
    figuresToMm: round(positionMm(on, examination.toGaugeMm), 1),
    flow: flowView(flow),
    jam: jamView(also.jam),
    statistics: statisticsView(examination),
    advice: also.advice.map((advice) => adviceView(advice, judged)),
    mass: also.mass,
  };
}

function adviceView(advice: Advice, { on }: Judgement): AdviceView {
  const trueMm = (gaugeMm: number | null) => (gaugeMm === null ? null : round(positionMm(on, gaugeMm), 1));
  return { ...advice, fromMm: trueMm(advice.fromMm), toMm: trueMm(advice.toMm) };
}

function jamView({ printMm, asWound, afterCutting }: JamOnSpool): JamView {
  const chance = (of: JamOnSpool['asWound']) =>
    of === null
      ? null
      : {
          oversize: of.oversize,
          examinedMm: round(of.examinedMm, 1),
          chance: round(of.chance, 6),
          lower: round(of.lower, 6),
          upper: round(of.upper, 6),
          sentence: of.sentence,
        };
  return { printMm, asWound: chance(asWound), afterCutting: chance(afterCutting) };
}

function statisticsView({ statistics, ovality }: Examination): StatisticsView | null {
  if (statistics === null) return null;
  const { quantilesMm: q, tolerance, histogram, individuals, capability } = statistics;
  const index = ({ value, lower, upper }: IndexEstimate) => ({
    value: roundOrNull(value, 3),
    lower: roundOrNull(lower, 3),
    upper: roundOrNull(upper, 3),
  });
  return {
    measuredMm: round(tolerance.measuredMm, 1),
    unknownMm: round(statistics.unknownMm, 1),
    meanMm: round(statistics.meanMm, 5),
    sdMm: roundOrNull(statistics.sdMm, 5),
    minMm: round(statistics.minMm, 4),
    maxMm: round(statistics.maxMm, 4),
    quantilesMm: {
      p1: round(q.p1, 4),
      p5: round(q.p5, 4),
      p25: round(q.p25, 4),
      p50: round(q.p50, 4),
      p75: round(q.p75, 4),
      p95: round(q.p95, 4),
      p99: round(q.p99, 4),
    },
    tolerance: {
      within: round(tolerance.within, 6),
      below: round(tolerance.below, 6),
      above: round(tolerance.above, 6),
    },
    histogram: {
      edgesMm: listOf(histogram.edgesMm, 5),
      lengthsMm: listOf(histogram.lengthsMm, 1),
      belowMm: round(histogram.belowMm, 1),
      aboveMm: round(histogram.aboveMm, 1),
    },
    individuals: {
      spacingMm: round(individuals.spacingMm, 1),
      count: individuals.count,
      lag1: roundOrNull(individuals.lag1, 3),
      effectiveForMean: round(individuals.forMean, 1),
      effectiveForSd: round(individuals.forSd, 1),
    },
    capability:
      capability === null
        ? null
        : {
            cp: index(capability.cp),
            cpk: index(capability.cpk),
            pp: index(capability.pp),
            ppk: index(capability.ppk),
            cpm: index(capability.cpm),
          },
    ovality:
      ovality === null
        ? null
        : {
            meanMm: round(ovality.meanMm, 5),
            p95Mm: round(ovality.p95Mm, 4),
            largestMm: round(ovality.largestMm, 4),
            largestAtMm: round(ovality.largestAtMm, 1),
            share: round(ovality.share, 6),
          },
    warnings: [...statistics.warnings],
  };
}

export function chartsView(charts: StrandCharts): ChartsView {
  const { individuals, signals, ewma, cusum } = charts;
  return {
    stepMm: round(charts.stepMm, 3),
    atMm: listOf(charts.atMm, 1),
    meanMm: listOrNulls(charts.meanMm, 5),
    individuals: {
      centreMm: round(individuals.centre, 5),
      sigmaMm: round(individuals.sigma, 6),
      upperMm: round(individuals.upper, 5),
      lowerMm: round(individuals.lower, 5),
      movingRangeMm: listOrNulls(individuals.movingRanges, 5),
      movingRangeUpperMm: round(individuals.movingRangeUpper, 5),
      beyond: [...individuals.beyond],
      signals: signals.map((signal) => ({ ...signal })),
    },
    ewma: {
      lambda: ewma.lambda,
      targetMm: round(charts.targetMm, 5),
      averageMm: listOrNulls(ewma.averages, 5),
      upperMm: listOf(ewma.upper, 5),
      lowerMm: listOf(ewma.lower, 5),
      beyond: [...ewma.beyond],
    },
    cusum: {
      targetMm: round(charts.targetMm, 5),
      allowanceMm: round(cusum.allowanceMm, 6),
      decisionMm: round(cusum.decisionMm, 6),
      highMm: listOf(cusum.high, 5),
      lowMm: listOf(cusum.low, 5),
      signal: cusum.signal === null ? null : { ...cusum.signal },
    },
  };
}
