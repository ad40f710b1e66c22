import type { Printer } from '../../entities/printer.ts';
import { Problem } from '../../problem/problem.ts';
import type { LineSettings } from '../../settings/line-settings.ts';
import { DOUBT_COLUMN_MM, type LengthDoubt, lengthDoubts } from '../../strand/length-doubts.ts';
import type { CutPlan } from '../../strand/plan/cut-plan.ts';
import type { DoneCut } from '../../strand/plan/done-cuts.ts';
import { withoutCutOuts } from '../../strand/position.ts';
import { canBeStrand } from '../../strand/possible-diameter.ts';
import type { StrandLimits } from '../../strand/strand-limits.ts';
import { LINE_PRINTER_ID } from '../../strand/verdict/printer-profile.ts';
import type { Examination } from '../analysis/spool-analysis.ts';
import type { SpoolAnalyst } from '../analysis/spool-analyst.ts';
import type { AnalysedSpool } from '../analysis/spool-columns.ts';
import type { QuestionName, Questions } from '../analysis/spool-functions.ts';
import { asUnmeasured, type MeasuredStretch, withUnmeasuredEnds } from '../analysis/spool-sections.ts';
import type { Log } from '../log.ts';
import type { SampleReader } from '../ports/samples.ts';
import type { SpoolStatements } from '../ports/spool-statements.ts';
import { sameLimits } from '../run/run-settings.ts';
import { VersionedCache } from '../versioned-cache.ts';
import { examinationFrom, examinationInputs, plainExamination } from './examination.ts';
import { type Found, type JudgedBy, type Judgement, judgementOf, planFor } from './judgement.ts';
import { limitsOnSpool, linePrinter } from './printer-limits.ts';
import type { SpoolRepository } from './spool-repository.ts';
import { gaugeMmAt, isWinding, strandOn, USUAL_CHOICES, type WoundSpool, woundMm } from './wound-spool.ts';

export interface SpoolJudgeParts {
  readonly spools: SpoolRepository;
  readonly analyst: SpoolAnalyst;
  readonly samples: SampleReader;
  readonly statements: SpoolStatements;
  readonly log: Log;
  settings(): LineSettings;
}

/** Over all readings of a spool; null = nothing was measured, or single readings were deleted. */
export interface DiameterSpread {
  readonly readings: number;
  readonly meanMm: number;
  readonly sdMm: number;
}

/** Columns over which the mean diameter is calculated. */
const MEAN_COLUMNS = 200;
/** On a spool too long for them all, columns are longer. */
const DOUBT_COLUMNS_MAX = 2000;
/**
 * Lists of all spools look at each one twice, by the limits of its winding and for its printer. What is left out is calculated
 * again each time, so a year of nights must fit.
 */
const CACHED_SPOOLS_MAX = 2000;
/** Sections take most of the memory, about 1 kB each; a judgement without any takes as much as ten. */
const CACHED_SECTIONS_MAX = 40_000;
const EMPTY_WEIGHT = 10;
/** Planning up to this many sections takes a few milliseconds. More are planned on the worker, to delay no reading or alarm. */
const PLANNED_HERE_MAX = 100;

/**
 * The only place that judges spools. A judgement depends on `WoundSpool` and the limits and is cached until one of them
 * changes. The examination of the readings behind it is stored in the record.
 */
export class SpoolJudge {
  readonly #parts: SpoolJudgeParts;
  readonly #judgements = new VersionedCache<Judgement>(
    CACHED_SECTIONS_MAX,
    ({ sections }) => EMPTY_WEIGHT + sections.length,
  );
  readonly #means = new VersionedCache<number | null>(CACHED_SPOOLS_MAX);
  readonly #spreads = new VersionedCache<DiameterSpread | null>(CACHED_SPOOLS_MAX);
  readonly #lengthDoubts = new VersionedCache<readonly LengthDoubt[]>(CACHED_SPOOLS_MAX);
  readonly #examinations = new VersionedCache<Examination>(
    CACHED_SECTIONS_MAX / 2,
    ({ found }) => EMPTY_WEIGHT + found.length,
  );

  constructor(parts: SpoolJudgeParts) {
    this.#parts = parts;
  }

  /**
   * Judges a spool for its chosen printer.
   * @throws Problem `unknown-spool`; `bad-printer` for a printer with impossible limits
   */
  async judge(spoolId: number): Promise<Judgement> {
    const woundSpool = this.#parts.spools.wound(spoolId);
    if (await this.#placeNames(woundSpool)) return this.judge(spoolId);
    const { printer, insteadOf } = this.printerOf(woundSpool);
    const judgement = await this.#judge(woundSpool, { kind: 'printer', printer });
    return insteadOf === null ? judgement : { ...judgement, warnings: [insteadOf, ...judgement.warnings] };
  }

  /** Judges for another printer than the chosen one, to compare runs. @throws as `judge` */
  judgeFor(woundSpool: WoundSpool, printer: Printer): Promise<Judgement> {
    return this.#judge(woundSpool, { kind: 'printer', printer });
  }

  /** Judges by the last limits in force during winding. */
  judgeAsWound(woundSpool: WoundSpool): Promise<Judgement> {
    return this.#judge(woundSpool, { kind: 'run' });
  }

  /** @throws Problem `bad-printer` for a printer that does not suit this strand */
  limitsBy(woundSpool: WoundSpool, printer: Printer): StrandLimits {
    return limitsOnSpool(woundSpool.settings.limits, printer, this.#parts.settings());
  }

  /**
   * The printer chosen for a spool. If its limits no longer suit those of the line, the line's own limits are used and
   * `insteadOf` says so.
   */
  printerOf(woundSpool: WoundSpool): { readonly printer: Printer; readonly insteadOf: string | null } {
    const own = linePrinter(this.#parts.settings());
    const { printerId } = woundSpool.choices;
    const chosen = (printerId === LINE_PRINTER_ID ? null : this.#parts.statements.printer(printerId)) ?? own;
    try {
      this.limitsBy(woundSpool, chosen);
      return { printer: chosen, insteadOf: null };
    } catch (thrown) {
      if (!(thrown instanceof Problem) || chosen === own) throw thrown;
      return { printer: own, insteadOf: `Judged by this line’s limits instead of ${chosen.name}’s. ${thrown.message}` };
    }
  }

  /** Changes with anything that `judgeAsWound` depends on. */
  versionAsWound(woundSpool: WoundSpool): string {
    return this.#versionOf(woundSpool, woundSpool.settings.limits);
  }

  /** Caches a judgement that the caller derived from an earlier one. */
  remember(judgement: Judgement): void {
    const { woundSpool, by, limits } = judgement;
    // While the run continues, the last second of a spool that has just ended may not be stored yet.
    if (isWinding(woundSpool) || woundSpool.run.endedMs === null) return;
    this.#judgements.set(keyOf(woundSpool, by), this.#versionOf(woundSpool, limits), judgement);
  }

  /** The plan after these cuts. @throws as `planFor` */
  async planAfter(judgement: Judgement, done: readonly DoneCut[]): Promise<CutPlan> {
    return judgement.sections.length > PLANNED_HERE_MAX
      ? this.#parts.analyst.plan(judgement, done)
      : planFor(judgement, done);
  }

  /** @throws Problem `readings-thinned` if single readings were deleted and no examination of them is stored */
  async examine({ woundSpool, limits }: Pick<Judgement, 'woundSpool' | 'limits'>): Promise<Examination> {
    const { statements, analyst, log } = this.#parts;
    const { id, runId } = woundSpool.spool;
    if (isWinding(woundSpool)) return plainExamination(await this.ask({ woundSpool, limits }, 'examine', {}));
    const inputs = examinationInputs(woundSpool, limits);
    // It holds times, and those move when the date of the run is corrected.
    const version = `${woundSpool.run.startedMs} ${inputs}`;
    return this.#examinations.get(`${id}`, version, async () => {
      let examination = examinationFrom(statements.examination(id, inputs));
      if (examination === null) {
        examination = plainExamination(await this.ask({ woundSpool, limits }, 'examine', {}));
        if (!(await analyst.isComplete(runId, woundSpool.endGaugeMm, woundSpool.run.endedMs !== null)))
          return examination;
        try {
          statements.keepExamination(id, inputs, examination);
        } catch (thrown) {
          // Not serious, because the spool can be read again.
          log.warn('The examination of a spool could not be stored', { spool: woundSpool.name, why: String(thrown) });
        }
      }
      this.#examinations.set(`${id}`, version, examination);
      return examination;
    });
  }

  /** @throws Problem `readings-thinned` */
  ask<Name extends QuestionName>(
    { woundSpool, limits }: Pick<Judgement, 'woundSpool' | 'limits'>,
    what: Name,
    input: Questions[Name]['input'],
  ): Promise<Questions[Name]['answer']> {
    const spool: AnalysedSpool = {
      ...strandOn(woundSpool),
      endGaugeMm: woundSpool.endGaugeMm,
      limits,
      growing: isWinding(woundSpool),
    };
    return this.#parts.analyst.ask(woundSpool.run.id, spool, what, input);
  }

  async #judge(woundSpool: WoundSpool, by: JudgedBy): Promise<Judgement> {
    const limits = by.kind === 'run' ? woundSpool.settings.limits : this.limitsBy(woundSpool, by.printer);
    const version = this.#versionOf(woundSpool, limits);
    const judgement = await this.#judgements.get(keyOf(woundSpool, by), version, () =>
      this.#judgeAgain(woundSpool, by, limits),
    );
    return { ...judgement, woundSpool };
  }

  async #judgeAgain(woundSpool: WoundSpool, by: JudgedBy, limits: StrandLimits): Promise<Judgement> {
    const found = await this.#found(woundSpool, by, limits);
    // The mean is needed only for the weight of coils, and a spool is never cut by the limits of its winding.
    const meanDiameterMm = by.kind === 'run' ? null : await this.meanDiameterMm(woundSpool);
    const lengthDoubts = await onceFor(woundSpool, this.#lengthDoubts, () => this.#doubtsOfLength(woundSpool));
    const { shortestCoilMm } = this.#parts.settings();
    const input = [woundSpool, by, limits, found, { shortestCoilMm, meanDiameterMm, lengthDoubts }] as const;
    const judgement =
      found.sections.length > PLANNED_HERE_MAX
        ? { ...(await this.#parts.analyst.judge(...input)), woundSpool }
        : judgementOf(...input);
    this.remember(judgement);
    return judgement;
  }

  async #found(woundSpool: WoundSpool, by: JudgedBy, limits: StrandLimits): Promise<Found> {
    const { settings, unreadable } = woundSpool;
    const isByThese = by.kind === 'run' || (settings.foundByThese && sameLimits(limits, settings.limits));
    const recorded = async (): Promise<Found> => {
      const known = [...woundSpool.recorded, ...unreadable.map((one) => asUnmeasured(one, woundSpool))];
      return {
        basis: isByThese ? 'recorded' : 'otherLimits',
        sections: withUnmeasuredEnds(known, woundSpool, await this.#measuredStretch(woundSpool)),
      };
    };
    if (isByThese && unreadable.length === 0) return recorded();
    try {
      const sections = isWinding(woundSpool)
        ? await this.ask({ woundSpool, limits }, 'sections', {})
        : (await this.examine({ woundSpool, limits })).found;
      return { basis: 'readings', sections };
    } catch (thrown) {
      if (thrown instanceof Problem && thrown.code === 'readings-thinned') return recorded();
      throw thrown;
    }
  }

  async #measuredStretch(woundSpool: WoundSpool): Promise<MeasuredStretch> {
    const extent = await this.#parts.samples.extent(woundSpool.run.id);
    if (extent === null) return null;
    const { count, fromGaugeMm, toGaugeMm, fromMs, toMs } = extent;
    return { fromGaugeMm, toGaugeMm, fromMs, toMs, pitchMm: count < 2 ? 0 : (toGaugeMm - fromGaugeMm) / (count - 1) };
  }

  /**
   * Diameter of the mean cross-section, √(mean of d² over length). It is calculated from summaries, so it needs no single
   * readings. Columns in which strand is partly missing are left out.
   */
  meanDiameterMm(woundSpool: WoundSpool): Promise<number | null> {
    return onceFor(woundSpool, this.#means, () => this.#meanDiameterMm(woundSpool));
  }

  async #meanDiameterMm(woundSpool: WoundSpool): Promise<number | null> {
    const { startGaugeMm, endGaugeMm, cutOuts } = woundSpool;
    const toMm = Math.max(endGaugeMm, startGaugeMm + 1);
    const { nominalMm, strandPresentMm } = woundSpool.settings.limits;
    let sum = 0;
    let measuredMm = 0;
    for (const piece of withoutCutOuts(startGaugeMm, toMm, cutOuts)) {
      const lengthMm = piece.toMm - piece.fromMm;
      const columns = Math.max(1, Math.round((MEAN_COLUMNS * lengthMm) / (toMm - startGaugeMm)));
      const { signals, count } = await this.#parts.samples.window({
        runId: woundSpool.run.id,
        axis: 'length',
        from: piece.fromMm,
        to: piece.toMm,
        columns,
        signals: ['d'],
        spread: true,
      });
      const d = signals.d;
      for (const [i, n] of count.entries()) {
        const [mean, min, max] = [d?.mean[i] ?? null, d?.min[i] ?? null, d?.max[i] ?? null];
        if (mean === null || min === null || max === null || min < strandPresentMm || !canBeStrand(max, nominalMm))
          continue;
        const sd = d?.sd?.[i] ?? 0;
        sum += (lengthMm / columns) * (mean * mean + ((n - 1) / n) * sd * sd);
        measuredMm += lengthMm / columns;
      }
    }
    return measuredMm === 0 ? null : Math.sqrt(sum / measuredMm);
  }

  /** How much the diameter varies over all that was wound. */
  spreadOf(woundSpool: WoundSpool): Promise<DiameterSpread | null> {
    return onceFor(woundSpool, this.#spreads, () => this.#spreadOf(woundSpool));
  }

  async #spreadOf(woundSpool: WoundSpool): Promise<DiameterSpread | null> {
    if (woundMm(woundSpool) === 0) return null;
    const { count, signals } = await this.#parts.samples.window({
      runId: woundSpool.run.id,
      axis: 'length',
      from: woundSpool.startGaugeMm,
      to: woundSpool.endGaugeMm,
      columns: 1,
      signals: ['d'],
      spread: true,
    });
    const [of, readings] = [signals.d, count[0] ?? 0];
    const [meanMm, sdMm] = [of?.mean[0] ?? null, of?.sd?.[0] ?? null];
    return meanMm === null || sdMm === null || readings < 2 ? null : { readings, meanMm, sdMm };
  }

  /** Found in summaries, so it needs no single readings. */
  async #doubtsOfLength({ run, startGaugeMm, endGaugeMm }: WoundSpool): Promise<readonly LengthDoubt[]> {
    const lengthMm = endGaugeMm - startGaugeMm;
    if (lengthMm < DOUBT_COLUMN_MM) return [];
    const { signals, count, timeMs, gaugeMm } = await this.#parts.samples.window({
      runId: run.id,
      axis: 'length',
      from: startGaugeMm,
      to: endGaugeMm,
      columns: Math.min(DOUBT_COLUMNS_MAX, Math.floor(lengthMm / DOUBT_COLUMN_MM)),
      signals: ['v', 'len'],
    });
    const { v, len } = signals;
    if (v === undefined || len === undefined) return [];
    return lengthDoubts({ count, timeMs, gaugeMm, speedMmPerS: v.mean, counterMm: len });
  }

  /**
   * Older records store coil names by number. Their strand is looked up once, in the plan with the usual choices, which was the
   * only one then. A number that this plan does not have stays without a place.
   * @returns whether any place was found
   */
  async #placeNames(woundSpool: WoundSpool): Promise<boolean> {
    const byNumber = woundSpool.coilNames.filter(({ place }) => place === null);
    if (isWinding(woundSpool) || byNumber.length === 0) return false;
    const asBefore = { ...woundSpool, choices: USUAL_CHOICES };
    const { plan } = await this.#judge(asBefore, { kind: 'printer', printer: linePrinter(this.#parts.settings()) });
    const placed = byNumber.flatMap(({ id, coil }) => {
      const planned = plan?.coils[coil - 1];
      if (planned === undefined) return [];
      return [
        {
          id,
          place: { fromGaugeMm: gaugeMmAt(woundSpool, planned.fromMm), toGaugeMm: gaugeMmAt(woundSpool, planned.toMm) },
        },
      ];
    });
    for (const { id, place } of placed) this.#parts.statements.placeCoilName(id, place);
    return placed.length > 0;
  }

  /** Everything a judgement depends on. Recorded sections change only with the spool's start after the run, or cannot be read. */
  #versionOf(woundSpool: WoundSpool, limits: StrandLimits): string {
    const { startGaugeMm, endGaugeMm, reachGaugeMm, scale, weighing, settings, stated, cuts, coilNames, choices } =
      woundSpool;
    return JSON.stringify([
      [startGaugeMm, endGaugeMm, reachGaugeMm, scale, weighing, settings, limits, choices],
      [stated.length, stated.at(-1)?.id, cuts.map(({ id }) => id), coilNames],
      [woundSpool.run.endedMs, woundSpool.spool.endedMs, this.#parts.settings().shortestCoilMm],
      this.#parts.spools.unreadableRows(woundSpool.run.id),
    ]);
  }
}

/** What the readings of a spool say, whatever it is judged for. */
function onceFor<T>(
  { spool, run, startGaugeMm, endGaugeMm, cutOuts }: WoundSpool,
  cache: VersionedCache<T>,
  work: () => Promise<T>,
): Promise<T> {
  const version = JSON.stringify([startGaugeMm, endGaugeMm, cutOuts, run.startedMs, run.endedMs]);
  return cache.get(`${spool.id}`, version, async () => {
    const value = await work();
    cache.set(`${spool.id}`, version, value);
    return value;
  });
}

function keyOf(woundSpool: WoundSpool, by: JudgedBy): string {
  const limitsOf = by.kind === 'run' ? 'run' : `${by.printer.id} ${by.printer.name}`;
  return `${woundSpool.spool.id} ${limitsOf} ${JSON.stringify(woundSpool.choices)}`;
}

/** @throws Problem `wrong-state` for an empty spool */
export function requireStrand(woundSpool: WoundSpool): void {
  if (Math.round(woundMm(woundSpool)) > 0) return;
  throw new Problem(
    'wrong-state',
    `Spool ${woundSpool.name} is empty, so there is nothing to judge.`,
    'Wind it first, or choose another spool.',
  );
}
