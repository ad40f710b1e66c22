import { type Defects, type StretchSums, stretchesOfStrand } from '../../strand/comparison/stretch-sums.ts';
import type { MeasuredSection } from '../../strand/section.ts';
import { SectionScan } from '../../strand/section-scan.ts';
import { causesOf, type LineParts, type PossibleCause } from '../../strand/spectrum/named-causes.ts';
import { type StrandSpectrum, strandSpectrum } from '../../strand/spectrum/strand-spectrum.ts';
import { type DiameterTally, tallyDiameters } from '../../strand/statistics/diameter-tally.ts';
import type { StrandStatistics } from '../../strand/statistics/strand-statistics.ts';
import type { StrandAdvisory } from '../../strand/trend/advisory.ts';
import type { FlowError } from '../../strand/verdict/flow-error.ts';
import { type BelievedColumns, believedColumns } from './believed-columns.ts';
import { type AnalysedSpool, GrowingColumns, type SpoolColumns } from './spool-columns.ts';
import { sectionsOnSpool, strandOf } from './spool-sections.ts';
import {
  basisOf,
  flowOf,
  gaugeNoiseOf,
  ovalityOf,
  type StrandSteadiness,
  spanOf,
  statisticsOf,
  steadinessOf,
} from './strand-figures.ts';
import { firstAbove, firstAtLeast, partOfStrand, type StrandOnSpool, strandOnSpool } from './strand-on-spool.ts';
import { courseOf, type GaugeTrouble, gaugeTroubles, trendsOf } from './strand-trends.ts';

/** All results from the readings of a spool with certain limits. Plain data, stored as JSON with null for NaN. */
export interface Examination {
  readonly found: readonly MeasuredSection[];
  /** Everything below covers the strand up to here; for a growing spool it is updated only occasionally. */
  readonly toGaugeMm: number;
  readonly readings: number;
  /** In counted length; null = fewer than two readings. */
  readonly meanPitchMm: number | null;
  readonly meanSpeedMmPerS: number | null;
  /** Standard deviation of its readings where they scattered most; null = too few. */
  readonly gaugeNoiseMm: number | null;
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

/** Sums over stretches of a spool, for comparison. */
export interface StretchesOfSpool {
  readonly stretches: readonly StretchSums[];
  readonly tally: DiameterTally;
}

const CACHED_MAX = 8;
/** Figures of a growing spool are updated after it has grown by this share, so that a night takes only a few passes. */
const GROWN_SHARE = 0.02;
const GROWN_MM = 1000;

/**
 * Analyses the readings of one spool. Results that do not depend on the printer are cached, so that for another printer only
 * the sections must be found again. On a growing spool only new readings are scanned.
 */
export class SpoolAnalysis {
  readonly #readings = new GrowingColumns();
  readonly #cache = new Map<string, unknown>();
  /** Scans of a growing spool, by limits. */
  readonly #scans = new Map<string, SectionScan>();

  add(columns: SpoolColumns): void {
    this.#readings.add(columns);
  }

  #columns({ limits }: AnalysedSpool): BelievedColumns {
    const readings = this.#readings.current;
    const { nominalMm, strandPresentMm } = limits;
    return this.#cached(['columns', readings.timeMs.length, nominalMm, strandPresentMm], () =>
      believedColumns(readings, limits),
    );
  }

  /** The readings that count as measured: not those of a gauge that was frozen, or that cannot be believed. */
  #measured(spool: AnalysedSpool): SpoolColumns {
    const columns = this.#columns(spool);
    const { gaugeMm } = columns;
    const diameterMm = columns.diameterMm.slice();
    for (const { fromMm, toMm } of this.#unmeasured(spool))
      diameterMm.fill(Number.NaN, firstAtLeast(gaugeMm, fromMm), firstAbove(gaugeMm, toMm));
    return { ...columns, diameterMm };
  }

  #unmeasured(spool: AnalysedSpool): readonly MeasuredSection[] {
    return this.#found(spool).filter(({ kind }) => kind === 'unknown');
  }

  /** What the figures of a spool depend on, apart from its readings. */
  #strandKey(spool: AnalysedSpool): string {
    const { startGaugeMm, endGaugeMm, lengthFactor, cutOuts, limits } = spool;
    const unmeasured = this.#unmeasured(spool).map(({ fromMm, toMm }) => [fromMm, toMm]);
    return JSON.stringify([startGaugeMm, endGaugeMm, lengthFactor, cutOuts, limits.strandPresentMm, unmeasured]);
  }

  /** Sections found with these limits, as far as there are readings. */
  sections(spool: AnalysedSpool): readonly MeasuredSection[] {
    return sectionsOnSpool(this.#found(spool), this.#columns(spool), spool);
  }

  examine(spool: AnalysedSpool): Examination {
    return { found: this.sections(spool), ...this.#figures(spool) };
  }

  steadiness(spool: AnalysedSpool): StrandSteadiness | null {
    return this.#cached(['steadiness', this.#strandKey(spool)], () => steadinessOf(this.#strand(spool)));
  }

  /** Figures of each coil; lengths from the inner end. */
  coils(
    spool: AnalysedSpool,
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

  stretches(spool: AnalysedSpool, woundMm: number, defects: Defects): StretchesOfSpool {
    const strand = this.#strand(spool);
    return {
      stretches: stretchesOfStrand(strand, woundMm, spool.limits, defects),
      tally: tallyDiameters(strand.diameterMm, strand.weightsMm),
    };
  }

  spectrum(spool: AnalysedSpool, parts: LineParts): SpectrumFindings {
    const causes = causesOf(parts);
    const strand = this.#strand(spool);
    const spectrum = this.#cached(['spectrum', this.#strandKey(spool), JSON.stringify(causes)], () => {
      const startMs = strand.timeMs[0] ?? 0;
      const timeS = strand.timeMs.map((ms) => (ms - startMs) / 1000);
      return strandSpectrum(timeS, strand.positionMm, strand.diameterMm, causes);
    });
    return { spectrum, causes };
  }

  #found(spool: AnalysedSpool): readonly MeasuredSection[] {
    if (!spool.growing)
      return this.#cached(['found', JSON.stringify(spool.limits), this.#columns(spool).timeMs.length], () => {
        const scan = new SectionScan(spool.limits);
        scan.readNew(strandOf(this.#columns(spool)));
        return scan.close();
      });
    const key = JSON.stringify(spool.limits);
    const scan = this.#scans.get(key) ?? new SectionScan(spool.limits);
    this.#scans.set(key, scan);
    scan.readNew(strandOf(this.#columns(spool)));
    return scan.sections();
  }

  #figures(spool: AnalysedSpool): Omit<Examination, 'found'> {
    const { startGaugeMm, endGaugeMm, lengthFactor, cutOuts, limits, growing } = spool;
    if (!growing) return this.#figuresNow(spool);
    const key = ['growing', startGaugeMm, lengthFactor, JSON.stringify([limits, cutOuts])].join(' ');
    const before = this.#cache.get(key) as Omit<Examination, 'found'> | undefined;
    const grownMm = before === undefined ? Number.POSITIVE_INFINITY : endGaugeMm - before.toGaugeMm;
    if (before !== undefined && grownMm < Math.max(GROWN_MM, GROWN_SHARE * (before.toGaugeMm - startGaugeMm)))
      return before;
    const figures = this.#figuresNow(spool);
    this.#cache.set(key, figures);
    return figures;
  }

  #figuresNow(spool: AnalysedSpool): Omit<Examination, 'found'> {
    const { limits, endGaugeMm, lengthFactor } = spool;
    const { nominalMm, toleranceMm, hotendLimitMm } = limits;
    const strand = this.#strand(spool);
    const key = this.#strandKey(spool);
    const { timeMs, positionMm, meanPitchMm } = strand;
    const n = timeMs.length;
    const seconds = spanOf(timeMs) / 1000;
    return {
      toGaugeMm: endGaugeMm,
      readings: n,
      meanPitchMm: n < 2 ? null : meanPitchMm / lengthFactor,
      meanSpeedMmPerS: seconds > 0 ? spanOf(positionMm) / seconds : null,
      gaugeNoiseMm: this.#cached(['noise', key], () => gaugeNoiseOf(strand)),
      statistics: this.#cached(['statistics', nominalMm, toleranceMm, key], () =>
        statisticsOf(
          this.#cached(['basis', key], () => basisOf(strand)),
          { nominalMm, toleranceMm },
        ),
      ),
      ovality: this.#cached(['ovality', key], () => ovalityOf(strand)),
      flow: this.#cached(['flow', nominalMm, key], () => flowOf(strand, nominalMm)),
      trends: this.#cached(['trends', nominalMm, toleranceMm, key], () =>
        trendsOf(
          this.#cached(['course', nominalMm, key], () => courseOf(this.#measured(spool), spool, limits)),
          limits,
        ),
      ),
      troubles: this.#cached(['troubles', hotendLimitMm, key], () =>
        gaugeTroubles(this.#columns(spool), spool, limits),
      ),
    };
  }

  #strand(spool: AnalysedSpool): StrandOnSpool {
    return this.#cached(['strand', this.#strandKey(spool)], () =>
      strandOnSpool(this.#measured(spool), spool, spool.limits.strandPresentMm),
    );
  }

  #cached<T>(inputs: readonly (string | number)[], make: () => T): T {
    const key = inputs.join(' ');
    if (this.#cache.has(key)) return this.#cache.get(key) as T;
    const made = make();
    this.#cache.set(key, made);
    // Drop the oldest of the same kind.
    const [kind] = inputs;
    const sameKind = [...this.#cache.keys()].filter((cached) => cached.startsWith(`${kind} `));
    const [oldest] = sameKind;
    if (oldest !== undefined && sameKind.length > (kind === 'strand' || kind === 'columns' ? 1 : CACHED_MAX))
      this.#cache.delete(oldest);
    return made;
  }
}
