import { type Defects, type StretchSums, stretchesOfStrand } from '../../strand/comparison/stretch-sums.ts';
import type { MeasuredSection } from '../../strand/section.ts';
import { SectionScan } from '../../strand/section-scan.ts';
import { causesOf, type LineParts, type PossibleCause } from '../../strand/spectrum/named-causes.ts';
import { type StrandSpectrum, strandSpectrum } from '../../strand/spectrum/strand-spectrum.ts';
import { type DiameterTally, tallyDiameters } from '../../strand/statistics/diameter-tally.ts';
import type { StrandStatistics } from '../../strand/statistics/strand-statistics.ts';
import type { StrandAdvisory } from '../../strand/trend/advisory.ts';
import type { FlowError } from '../../strand/verdict/flow-error.ts';
import { foundOnSpool, strandOf } from './found-on-strand.ts';
import type { SpoolCase } from './spool-case.ts';
import { GrowingColumns, type SpoolColumns } from './spool-columns.ts';
import { basisOf, chartsOf, flowOf, ovalityOf, type StrandCharts, statisticsOf } from './strand-figures.ts';
import { partOfStrand, type StrandOnSpool, strandOnSpool } from './strand-on-spool.ts';
import { courseOf, type GaugeTrouble, gaugeTroubles, trendsOf } from './strand-trends.ts';

/** What all readings of a spool say by certain limits. Plain data: it is kept in the record as JSON, NaN as null. */
export interface Examination {
  readonly found: readonly MeasuredSection[];
  /** The rest tells of the strand up to here: of a spool that grows it is worked out again only now and then. */
  readonly toGaugeMm: number;
  readonly readings: number;
  /** As counted; null where fewer than two readings lie on it. */
  readonly meanPitchMm: number | null;
  readonly meanSpeedMmPerS: number | null;
  readonly statistics: StrandStatistics | null;
  readonly ovality: ReturnType<typeof ovalityOf>;
  readonly flow: FlowError | null;
  readonly trends: readonly StrandAdvisory[];
  readonly troubles: readonly GaugeTrouble[];
}

export interface CoilFigures {
  readonly statistics: StrandStatistics | null;
  readonly flow: FlowError | null;
}

export interface SpectrumFindings {
  readonly spectrum: StrandSpectrum;
  readonly causes: readonly PossibleCause[];
}

/** A spool in stretches, to be compared with others. */
export interface StretchesOfSpool {
  readonly stretches: readonly StretchSums[];
  readonly tally: DiameterTally;
}

const REMEMBERED = 8;
/** Figures of a growing spool are worked out again once it has grown by this share, so that a night costs a few passes. */
const GROWN_SHARE = 0.02;
const GROWN_MM = 1000;

/**
 * Everything that can be said of one spool from its readings. What does not depend on the printer is worked out once and
 * remembered, so that another printer costs little more than finding the sections again. Where the spool grows, only what
 * is new is judged.
 */
export class SpoolAnalysis {
  readonly #growing: GrowingColumns;
  #columns: SpoolColumns;
  readonly #known = new Map<string, unknown>();
  readonly #judges = new Map<string, SectionScan>();

  constructor(columns: SpoolColumns) {
    this.#growing = new GrowingColumns(columns);
    this.#columns = this.#growing.now;
  }

  /** More strand of the same spool passed the gauge. */
  add(columns: SpoolColumns): void {
    this.#growing.add(columns);
    this.#columns = this.#growing.now;
  }

  /** What the detector finds by these limits, as far as it reaches. */
  sections(spool: SpoolCase): readonly MeasuredSection[] {
    return foundOnSpool(this.#found(spool), this.#columns, spool);
  }

  examine(spool: SpoolCase): Examination {
    return { found: this.sections(spool), ...this.#figures(spool) };
  }

  charts(spool: SpoolCase): StrandCharts | null {
    return this.#once(['charts', place(spool)], () => chartsOf(this.#strand(spool)));
  }

  /** Each coil on its own; places from the inner end. */
  coils(
    spool: SpoolCase,
    coils: readonly { readonly fromMm: number; readonly toMm: number }[],
  ): readonly CoilFigures[] {
    const strand = this.#strand(spool);
    const { nominalMm, toleranceMm } = spool.limits;
    return coils.map(({ fromMm, toMm }) => {
      const part = partOfStrand(strand, fromMm, toMm);
      return {
        statistics: statisticsOf(basisOf(part), { nominalMm, toleranceMm }),
        flow: part.positionMm.length < 2 ? null : flowOf(part, nominalMm),
      };
    });
  }

  stretches(spool: SpoolCase, woundMm: number, spoilt: Defects): StretchesOfSpool {
    const strand = this.#strand(spool);
    return {
      stretches: stretchesOfStrand(strand, woundMm, spool.limits, spoilt),
      tally: tallyDiameters(strand.diameterMm, strand.weightsMm),
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

  #found(spool: SpoolCase): readonly MeasuredSection[] {
    if (!spool.growing)
      return this.#once(['found', JSON.stringify(spool.limits), this.#columns.timeMs.length], () => {
        const judge = new SectionScan(spool.limits);
        judge.readNew(strandOf(this.#columns));
        return judge.close();
      });
    const key = JSON.stringify(spool.limits);
    const judge = this.#judges.get(key) ?? new SectionScan(spool.limits);
    this.#judges.set(key, judge);
    judge.readNew(strandOf(this.#columns));
    return judge.sections();
  }

  #figures(spool: SpoolCase): Omit<Examination, 'found'> {
    const { startGaugeMm, endGaugeMm, lengthFactor, limits, growing } = spool;
    const make = () => this.#figuresNow(spool);
    if (!growing) return make();
    const key = ['growing', startGaugeMm, lengthFactor, JSON.stringify(limits)].join(' ');
    const before = this.#known.get(key) as Omit<Examination, 'found'> | undefined;
    const grownMm = before === undefined ? Number.POSITIVE_INFINITY : endGaugeMm - before.toGaugeMm;
    if (before !== undefined && grownMm < Math.max(GROWN_MM, GROWN_SHARE * (before.toGaugeMm - startGaugeMm)))
      return before;
    const made = make();
    this.#known.set(key, made);
    return made;
  }

  #figuresNow(spool: SpoolCase): Omit<Examination, 'found'> {
    const { limits, endGaugeMm, lengthFactor } = spool;
    const { nominalMm, toleranceMm, hotendLimitMm } = limits;
    const strand = this.#strand(spool);
    const { timeMs, positionMm, meanPitchMm } = strand;
    const n = timeMs.length;
    const seconds = n < 2 ? 0 : (timeMs[n - 1]! - timeMs[0]!) / 1000;
    return {
      toGaugeMm: endGaugeMm,
      readings: n,
      meanPitchMm: n < 2 ? null : meanPitchMm / lengthFactor,
      meanSpeedMmPerS: seconds > 0 ? (positionMm[n - 1]! - positionMm[0]!) / seconds : null,
      statistics: this.#once(['statistics', nominalMm, toleranceMm, place(spool)], () =>
        statisticsOf(
          this.#once(['basis', place(spool)], () => basisOf(strand)),
          { nominalMm, toleranceMm },
        ),
      ),
      ovality: this.#once(['ovality', place(spool)], () => ovalityOf(strand)),
      flow: this.#once(['flow', nominalMm, place(spool)], () => flowOf(strand, nominalMm)),
      trends: this.#once(['trends', nominalMm, toleranceMm, place(spool)], () =>
        trendsOf(
          this.#once(['course', nominalMm, place(spool)], () => courseOf(this.#columns, spool, limits)),
          limits,
        ),
      ),
      troubles: this.#once(['troubles', hotendLimitMm, place(spool)], () =>
        gaugeTroubles(this.#columns, spool, limits),
      ),
    };
  }

  #strand(spool: SpoolCase): StrandOnSpool {
    return this.#once(['strand', place(spool)], () =>
      strandOnSpool(this.#columns, spool, spool.limits.strandPresentMm),
    );
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
