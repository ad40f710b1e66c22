import type { Advice } from '../../strand/advice.ts';
import type { GaugeOptics } from '../../strand/blindness.ts';
import { type Coil, type CutPlan, planCuts, replan } from '../../strand/plan/cut-plan.ts';
import type { CutRequest, PlanStretch } from '../../strand/plan/cut-request.ts';
import type { DoneCut } from '../../strand/plan/done-cuts.ts';
import type { MeasuredSection } from '../../strand/section.ts';
import { type StretchSums, stretchesOfStrand } from '../../strand/side-by-side/stretch-sums.ts';
import { causesOf, type LineParts, type PossibleCause } from '../../strand/spectrum/named-causes.ts';
import { type StrandSpectrum, strandSpectrum } from '../../strand/spectrum/strand-spectrum.ts';
import { type SpoolTotals, spoolTotals } from '../../strand/spool-totals.ts';
import { type DiameterTally, tallyDiameters } from '../../strand/statistics/diameter-tally.ts';
import type { StrandStatistics } from '../../strand/statistics/strand-statistics.ts';
import type { FlowError } from '../../strand/verdict/flow-error.ts';
import { type JamChance, jamChance } from '../../strand/verdict/jam-chance.ts';
import { type SpoolVerdict, spoolVerdict } from '../../strand/verdict/spool-verdict.ts';
import { keptOf } from './cutting-of.ts';
import { foundOnStrand, judgeAnew } from './judge-anew.ts';
import { spoiltOnSpool } from './spoilt-on-spool.ts';
import { adviceOf, courseOf, gaugeTroubles, trendsOf } from './spool-advice.ts';
import { countErrorOf, type SpoolCase, type SpoolColumns } from './spool-case.ts';
import {
  basisOf,
  chartsOf,
  flowOf,
  meanSquareOf,
  ovalityOf,
  type StrandCharts,
  statisticsOf,
} from './strand-figures.ts';
import { partOfStrand, type StrandOnSpool, strandOnSpool } from './strand-on-spool.ts';
import { stretchesOnSpool, within } from './stretches-on-spool.ts';
import { type PlacedSection, sectionsWithWords } from './words-by-place.ts';

/** What is set about the line, to tell what may have caused something. */
export interface LineBuild {
  readonly parts: LineParts;
  readonly optics: GaugeOptics;
}

/** What is asked beside the case. */
export interface PlanChoices {
  readonly shortestMm: number;
  readonly objective: CutRequest['objective'];
  readonly doubtful: CutRequest['doubtful'];
  readonly unknown: CutRequest['unknown'];
}

/** The sections of a spool and what follows from them at once; positions in gauge length. */
export interface JudgedSpool {
  readonly sections: readonly PlacedSection[];
  /** True lengths. */
  readonly woundMm: number;
  readonly totals: SpoolTotals;
  readonly readings: number;
  readonly meanPitchMm: number;
  /** Diameter of equal cross-section; NaN = nothing was measured. */
  readonly meanDiameterMm: number;
}

export interface SpoolFindings extends JudgedSpool {
  readonly verdict: SpoolVerdict;
  readonly statistics: StrandStatistics | null;
  readonly ovality: ReturnType<typeof ovalityOf>;
  readonly flow: FlowError | null;
  readonly charts: StrandCharts | null;
  /** What is to be known beside the sections; it changes no verdict. */
  readonly advice: readonly Advice[];
  readonly jam: {
    readonly oversize: number;
    readonly examinedMm: number;
    readonly asWound: JamChance | null;
    readonly keptMm: number;
    readonly afterCutting: JamChance | null;
  };
}

export interface PlannedSpool {
  readonly plan: CutPlan;
  readonly verdict: SpoolVerdict;
}

export interface CoilFindings {
  readonly verdict: SpoolVerdict | null;
  readonly statistics: StrandStatistics | null;
  readonly flow: FlowError | null;
}

export interface SpectrumFindings {
  readonly spectrum: StrandSpectrum;
  readonly causes: readonly PossibleCause[];
}

/** A spool summed up, to be laid beside others. */
export interface SummedSpool {
  readonly woundMm: number;
  readonly stretches: readonly StretchSums[];
  /** Null where single readings are not at hand. */
  readonly tally: DiameterTally | null;
  readonly keptMm: number;
  readonly coils: number;
  readonly longestCoilMm: number;
}

const REMEMBERED = 8;
/** As in the verdict: doubtful and unmeasured stretches are cut out. */
export const USUAL_CHOICES = { objective: 'mostLength', doubtful: 'cut', unknown: 'cut' } as const;

/**
 * Everything that can be said of one spool from its readings. What does not depend on the printer is worked out once and
 * remembered, so that another printer costs little more than judging the strand anew.
 */
export class SpoolAnalysis {
  readonly #columns: SpoolColumns;
  readonly #known = new Map<string, unknown>();

  constructor(columns: SpoolColumns) {
    this.#columns = columns;
  }

  /** What the detector finds by these limits, without what was said of it; as far as it reaches. */
  sections(spool: SpoolCase): readonly MeasuredSection[] {
    return foundOnStrand(this.#columns, spool, spool.limits);
  }

  judge(spool: SpoolCase): JudgedSpool {
    const strand = this.#strand(spool);
    const sections = sectionsWithWords(this.#judged(spool), spool.recorded, spool.stated).filter(
      (section) => section.toMm > spool.startGaugeMm && section.fromMm < spool.endGaugeMm,
    );
    const { lengthFactor } = spool;
    const totals = spoolTotals(sections, spool.startGaugeMm, spool.endGaugeMm);
    return {
      sections,
      woundMm: woundMm(spool),
      totals: {
        discardMm: totals.discardMm * lengthFactor,
        doubtfulMm: totals.doubtfulMm * lengthFactor,
        unknownMm: totals.unknownMm * lengthFactor,
        goodMm: totals.goodMm * lengthFactor,
        longestCleanMm: totals.longestCleanMm * lengthFactor,
      },
      readings: strand.timeMs.length,
      meanPitchMm: strand.meanPitchMm,
      meanDiameterMm: this.#meanDiameterMm(spool),
    };
  }

  /** @throws Problem wrong-state for an empty spool, bad-request for limits that cannot be */
  findings(spool: SpoolCase, printMm: number, line: LineBuild): SpoolFindings {
    const judged = this.judge(spool);
    const strand = this.#strand(spool);
    const { nominalMm, toleranceMm } = spool.limits;
    const statistics = this.#once(['statistics', nominalMm, toleranceMm, place(spool)], () =>
      statisticsOf(
        this.#once(['basis', place(spool)], () => basisOf(strand)),
        { nominalMm, toleranceMm },
      ),
    );
    const flow = this.#once(['flow', nominalMm, place(spool)], () => flowOf(strand, nominalMm));
    const verdict = this.#verdict(spool, judged, statistics?.tolerance.within ?? null, flow);
    const oversize = judged.sections.filter(
      ({ kind, certainty, verdict }) => kind === 'blob' && certainty === 'sure' && verdict === 'discard',
    ).length;
    const examinedMm = judged.woundMm - judged.totals.unknownMm;
    const keptMm = verdict.afterCutting?.keptMm ?? examinedMm;
    return {
      ...judged,
      verdict,
      statistics,
      ovality: this.#once(['ovality', place(spool)], () => ovalityOf(strand)),
      flow,
      charts: this.#once(['charts', place(spool)], () => chartsOf(strand)),
      advice: this.#advice(spool, strand, line),
      jam: {
        oversize,
        examinedMm,
        asWound: jamChance(oversize, examinedMm, printMm),
        keptMm,
        afterCutting: jamChance(verdict.afterCutting === null ? oversize : 0, keptMm, printMm),
      },
    };
  }

  /** @throws Problem wrong-state for an empty spool, bad-request for choices or cuts that cannot be */
  plan(spool: SpoolCase, choices: PlanChoices, done: readonly DoneCut[]): PlannedSpool {
    const judged = this.judge(spool);
    const whole = planCuts({
      spoolName: spool.name,
      woundMm: judged.woundMm,
      stretches: stretchesOf(judged, spool),
      shortestCoilMm: choices.shortestMm,
      objective: choices.objective,
      doubtful: choices.doubtful,
      unknown: choices.unknown,
      countError: countErrorOf(spool),
      densityGPerCm3: spool.densityGPerCm3,
      meanDiameterMm: Number.isNaN(judged.meanDiameterMm) ? null : judged.meanDiameterMm,
    });
    return {
      plan: done.length === 0 ? whole : replan(whole, done),
      verdict: this.#verdict(spool, judged, null, null),
    };
  }

  /** Each coil of a plan by itself; `shortestMm` = what would be worth keeping of it, should it be cut again. */
  coils(spool: SpoolCase, coils: readonly Coil[], shortestMm: number): readonly CoilFindings[] {
    const judged = this.judge(spool);
    const strand = this.#strand(spool);
    const stretches = stretchesOf(judged, spool);
    const { nominalMm, toleranceMm } = spool.limits;
    return coils.map((coil) => {
      const part = partOfStrand(strand, coil.fromMm, coil.toMm);
      const statistics = statisticsOf(basisOf(part), { nominalMm, toleranceMm });
      const flow = part.positionMm.length < 2 ? null : flowOf(part, nominalMm);
      const lengthMm = coil.toMm - coil.fromMm;
      const own = stretches
        .filter((stretch) => stretch.toMm > coil.fromMm && stretch.fromMm < coil.toMm)
        .map((stretch) => within(stretch, coil.fromMm, lengthMm));
      const verdict = spoolVerdict({
        name: `coil ${coil.name}`,
        lengthMm,
        nominalMm,
        profile: { ...spool.limits, name: spool.printerName },
        stretches: own,
        shortestCoilMm: Math.min(shortestMm, lengthMm),
        countError: countErrorOf(spool),
        withinToleranceShare: statistics?.tolerance.within ?? null,
        flow,
      });
      return { verdict, statistics, flow };
    });
  }

  /** @throws Problem wrong-state for an empty spool */
  summed(spool: SpoolCase): SummedSpool {
    const judged = this.judge(spool);
    const strand = this.#strand(spool);
    return {
      woundMm: judged.woundMm,
      stretches: stretchesOfStrand(strand, judged.woundMm, spool.limits, spoiltOnSpool(judged.sections, spool)),
      tally: tallyDiameters(strand.diameterMm, strand.weightsMm),
      ...keptOf(this.plan(spool, { ...USUAL_CHOICES, shortestMm: spool.shortestCoilMm }, []).plan),
    };
  }

  spectrum(spool: SpoolCase, parts: LineParts): SpectrumFindings {
    const causes = causesOf(parts);
    const strand = this.#strand(spool);
    const spectrum = this.#once(['spectrum', place(spool), JSON.stringify(causes)], () => {
      const startMs = strand.timeMs[0] ?? 0;
      const timeS = strand.timeMs.map((ms) => (ms - startMs) / 1000);
      return strandSpectrum(timeS, strand.positionMm, strand.diameterMm, causes);
    });
    return { spectrum, causes };
  }

  #advice(spool: SpoolCase, strand: StrandOnSpool, line: LineBuild): readonly Advice[] {
    const { limits, lengthFactor } = spool;
    const { nominalMm, toleranceMm, hotendLimitMm } = limits;
    const { timeMs, positionMm, meanPitchMm } = strand;
    const n = timeMs.length;
    const seconds = n < 2 ? 0 : (timeMs[n - 1]! - timeMs[0]!) / 1000;
    const meanSpeedMmPerS = seconds > 0 ? (positionMm[n - 1]! - positionMm[0]!) / seconds : Number.NaN;
    return adviceOf(
      {
        trends: this.#once(['trends', nominalMm, toleranceMm, place(spool)], () =>
          trendsOf(
            this.#once(['course', nominalMm, place(spool)], () => courseOf(this.#columns, spool, limits)),
            limits,
          ),
        ),
        troubles: this.#once(['troubles', hotendLimitMm, place(spool)], () =>
          gaugeTroubles(this.#columns, spool, limits),
        ),
        meanPitchMm: meanPitchMm / lengthFactor,
        meanSpeedMmPerS,
      },
      { causes: causesOf(line.parts), optics: line.optics, limits },
    );
  }

  #verdict(
    spool: SpoolCase,
    judged: JudgedSpool,
    withinToleranceShare: number | null,
    flow: FlowError | null,
  ): SpoolVerdict {
    return spoolVerdict({
      name: `spool ${spool.name}`,
      lengthMm: judged.woundMm,
      nominalMm: spool.limits.nominalMm,
      profile: { ...spool.limits, name: spool.printerName },
      stretches: stretchesOf(judged, spool),
      shortestCoilMm: spool.shortestCoilMm,
      countError: countErrorOf(spool),
      withinToleranceShare,
      flow,
    });
  }

  #judged(spool: SpoolCase): readonly MeasuredSection[] {
    return this.#once(['judged', spool.startGaugeMm, spool.endGaugeMm, JSON.stringify(spool.limits)], () =>
      judgeAnew(this.#columns, spool, spool.limits),
    );
  }

  #strand(spool: SpoolCase): StrandOnSpool {
    return this.#once(['strand', place(spool)], () =>
      strandOnSpool(this.#columns, spool, spool.limits.strandPresentMm),
    );
  }

  #meanDiameterMm(spool: SpoolCase): number {
    return this.#once(['meanDiameter', place(spool)], () => Math.sqrt(meanSquareOf(this.#strand(spool))));
  }

  #once<T>(of: readonly (string | number)[], make: () => T): T {
    const key = of.join(' ');
    if (this.#known.has(key)) return this.#known.get(key) as T;
    const made = make();
    this.#known.set(key, made);
    // The oldest of the same sort goes.
    const same = [...this.#known.keys()].filter((known) => known.startsWith(`${of[0]} `));
    const most = of[0] === 'strand' ? 1 : REMEMBERED;
    if (same.length > most) this.#known.delete(same[0]!);
    return made;
  }
}

function place({ startGaugeMm, endGaugeMm, lengthFactor, limits }: SpoolCase): string {
  return `${startGaugeMm} ${endGaugeMm} ${lengthFactor} ${limits.strandPresentMm}`;
}

function woundMm({ startGaugeMm, endGaugeMm, lengthFactor }: SpoolCase): number {
  return Math.max(0, endGaugeMm - startGaugeMm) * lengthFactor;
}

function stretchesOf(judged: JudgedSpool, spool: SpoolCase): PlanStretch[] {
  return stretchesOnSpool(judged.sections, spool.startGaugeMm, spool.lengthFactor, judged.woundMm);
}
