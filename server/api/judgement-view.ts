import type { SpoolFindings } from '../monitor/analysis/spool-analysis.ts';
import type { SpoolCase } from '../monitor/analysis/spool-case.ts';
import type { PlacedSection } from '../monitor/analysis/words-by-place.ts';
import type { LengthCorrection, Printer, Spool } from '../monitor/ports.ts';
import type { Advice } from '../strand/advice.ts';
import type { IndexEstimate } from '../strand/statistics/capability.ts';
import type { JamChance } from '../strand/verdict/jam-chance.ts';
import type { AdviceView } from './contract.ts';
import type { ChartsView, JamView, JudgedSection, MassView, SpoolJudgement, StatisticsView } from './spool-contract.ts';
import { flowView, lengthScaleView, listOf, listOrNulls, printerView, verdictView } from './spool-numbers.ts';
import { round, roundOrNull } from './views.ts';

/** What was judged, and for whom. */
export interface Judged {
  readonly spool: Spool;
  readonly printer: Printer;
  readonly about: SpoolCase;
  readonly correction: LengthCorrection | null;
  readonly mass: MassView;
  readonly printMm: number;
}

export function judgementView(found: SpoolFindings, judged: Judged): SpoolJudgement {
  const { spool, printer, about, correction, mass, printMm } = judged;
  const { limits } = about;
  const { totals } = found;
  return {
    spoolId: spool.id,
    name: about.name,
    winding: spool.endGaugeMm === null,
    printer: printerView(printer),
    limits: {
      nominalMm: limits.nominalMm,
      toleranceMm: limits.toleranceMm,
      hotendLimitMm: limits.hotendLimitMm,
      leastFeedableMm: limits.leastFeedableMm,
      gaugeUncertaintyMm: limits.gaugeUncertaintyMm,
    },
    woundMm: round(found.woundMm, 1),
    woundUncertaintyMm: round(found.woundMm * about.lengthShare, 1),
    lengthScale: lengthScaleView(correction),
    sampling: { readings: found.readings, meanPitchMm: roundOrNull(found.meanPitchMm, 4) },
    sections: found.sections.map((section) => judgedSection(section, about)),
    totals: {
      discardMm: round(totals.discardMm, 1),
      doubtfulMm: round(totals.doubtfulMm, 1),
      unknownMm: round(totals.unknownMm, 1),
      goodMm: round(totals.goodMm, 1),
    },
    verdict: verdictView(found.verdict),
    flow: flowView(found.flow),
    jam: jamView(found.jam, printMm),
    statistics: statisticsView(found),
    charts: chartsView(found),
    advice: found.advice.map((advice) => adviceView(advice, about)),
    mass,
  };
}

/** Ids of sections hold within one answer: `j12` = judged, `p5` = marked by a person. */
export function judgedSection(section: PlacedSection, about: SpoolCase): JudgedSection {
  const { startGaugeMm, endGaugeMm, lengthFactor } = about;
  const wound = (endGaugeMm - startGaugeMm) * lengthFactor;
  const indicated = (gaugeMm: number) => Math.min(endGaugeMm, Math.max(startGaugeMm, gaugeMm)) - startGaugeMm;
  const fromMm = indicated(section.fromMm) * lengthFactor;
  const toMm = indicated(section.toMm) * lengthFactor;
  return {
    id: section.id.replace(/^m/, 'j'),
    recordedId: section.recordedId,
    kind: section.kind,
    fromMm: round(fromMm, 1),
    toMm: round(toMm, 1),
    fromIndicatedMm: round(indicated(section.fromMm), 1),
    toIndicatedMm: round(indicated(section.toMm), 1),
    fromOuterMm: round(wound - toMm, 1),
    toOuterMm: round(wound - fromMm, 1),
    lengthMm: round(toMm - fromMm, 1),
    fromTimeMs: section.fromTimeMs,
    toTimeMs: section.toTimeMs,
    peakMm: roundOrNull(section.peakMm, 4),
    peakAtMm: section.peakAtMm === null ? null : round(indicated(section.peakAtMm) * lengthFactor, 1),
    volumeBeyondMm3: roundOrNull(section.volumeBeyondMm3, 3),
    certainty: section.certainty,
    verdict: section.verdict,
    note: section.note,
    origin: section.origin,
  };
}

function adviceView(advice: Advice, { startGaugeMm, endGaugeMm, lengthFactor }: SpoolCase): AdviceView {
  const trueMm = (gaugeMm: number | null) =>
    gaugeMm === null
      ? null
      : round((Math.min(endGaugeMm, Math.max(startGaugeMm, gaugeMm)) - startGaugeMm) * lengthFactor, 1);
  return { ...advice, fromMm: trueMm(advice.fromMm), toMm: trueMm(advice.toMm) };
}

function jamView(jam: SpoolFindings['jam'], printMm: number): JamView {
  const chance = (found: JamChance | null, oversize: number, examinedMm: number) =>
    found === null
      ? null
      : {
          oversize,
          examinedMm: round(examinedMm, 1),
          chance: round(found.chance, 6),
          lower: round(found.lower, 6),
          upper: round(found.upper, 6),
          sentence: found.sentence,
        };
  return {
    printMm,
    asWound: chance(jam.asWound, jam.oversize, jam.examinedMm),
    afterCutting: chance(jam.afterCutting, 0, jam.keptMm),
  };
}

function statisticsView({ statistics, ovality }: SpoolFindings): StatisticsView | null {
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

function chartsView({ charts }: SpoolFindings): ChartsView | null {
  if (charts === null) return null;
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
