import type { Printer } from '../../entities/printer.ts';
import { Problem } from '../../problem/problem.ts';
import type { LineSettings } from '../../settings/line-settings.ts';
import type { CutPlan } from '../../strand/plan/cut-plan.ts';
import type { DoneCut } from '../../strand/plan/done-cuts.ts';
import { canBeStrand } from '../../strand/possible-diameter.ts';
import type { StrandLimits } from '../../strand/strand-limits.ts';
import { LINE_PRINTER_ID } from '../../strand/verdict/printer-profile.ts';
import type { Examination } from '../analysis/spool-analysis.ts';
import type { SpoolAnalyst } from '../analysis/spool-analyst.ts';
import type { SpoolCase } from '../analysis/spool-case.ts';
import type { QuestionName, Questions } from '../analysis/spool-functions.ts';
import { type MeasuredStretch, withUnseenEnds } from '../analysis/unseen-ends.ts';
import type { Log } from '../log.ts';
import type { SampleReader } from '../ports/samples.ts';
import type { SpoolStatements } from '../ports/spool-statements.ts';
import { sameLimits } from '../run-settings.ts';
import { examinationFrom, examinationInputs, plainExamination } from './examination.ts';
import { type Found, type JudgedBy, type Judgement, judgementOf, planFor } from './judgement.ts';
import { limitsOnSpool, linePrinter } from './printer-limits.ts';
import type { SpoolRepository } from './spool-repository.ts';
import { gaugeMmAt, isWinding, USUAL_CHOICES, type WoundSpool, woundMm } from './wound-spool.ts';

export interface SpoolJudgeParts {
  readonly spools: SpoolRepository;
  readonly analyst: SpoolAnalyst;
  readonly samples: SampleReader;
  readonly statements: SpoolStatements;
  readonly log: Log;
  settings(): LineSettings;
}

interface Remembered<T> {
  readonly version: string;
  readonly value: T;
}

/** How many columns the mean diameter of a spool is taken over. */
const MEAN_COLUMNS = 200;
const REMEMBERED = 400;
/** So many sections are planned in a few milliseconds; more go to the worker, so that they delay no reading and no alarm. */
const PLANNED_HERE_MAX = 100;

/**
 * The one place that judges spools. A judgement rests on what `WoundSpool` holds and on the limits; while none of it
 * changes the same one is given, and what had to be read for it is kept in the record.
 */
export class SpoolJudge {
  readonly #parts: SpoolJudgeParts;
  readonly #judgements = new Map<string, Remembered<Judgement>>();
  readonly #means = new Map<string, Remembered<number | null>>();
  readonly #examinations = new Map<string, Remembered<Examination>>();
  readonly #judging = new Map<string, Promise<Judgement>>();
  readonly #examining = new Map<string, Promise<Examination>>();

  constructor(parts: SpoolJudgeParts) {
    this.#parts = parts;
  }

  /**
   * By the printer that is chosen for the spool.
   * @throws Problem `unknown-spool`; `bad-printer` for a printer whose limits cannot be
   */
  async judge(spoolId: number): Promise<Judgement> {
    const on = this.#parts.spools.wound(spoolId);
    if (await this.#placedNames(on)) return this.judge(spoolId);
    const { printer, insteadOf } = this.printerOf(on);
    const judged = await this.#judged(on, { kind: 'printer', printer });
    return insteadOf === null ? judged : { ...judged, warnings: [insteadOf, ...judged.warnings] };
  }

  /** By another printer than the chosen one, to compare runs. @throws as `judge` */
  judgeFor(on: WoundSpool, printer: Printer): Promise<Judgement> {
    return this.#judged(on, { kind: 'printer', printer });
  }

  /** By the limits of the night in which it was wound, as they held last. */
  judgeByNight(on: WoundSpool): Promise<Judgement> {
    return this.#judged(on, { kind: 'run' });
  }

  /** @throws Problem bad-request for a printer that this strand cannot be judged for */
  limitsBy(on: WoundSpool, printer: Printer): StrandLimits {
    return limitsOnSpool(on.settings.limits, printer, this.#parts.settings());
  }

  /**
   * The printer that is chosen for a spool. One whose limits do not go with those of the line any more gives way to the
   * line's own limits; `insteadOf` says so.
   */
  printerOf(on: WoundSpool): { readonly printer: Printer; readonly insteadOf: string | null } {
    const own = linePrinter(this.#parts.settings());
    const { printerId } = on.choices;
    const chosen = (printerId === LINE_PRINTER_ID ? null : this.#parts.statements.printer(printerId)) ?? own;
    try {
      this.limitsBy(on, chosen);
      return { printer: chosen, insteadOf: null };
    } catch (thrown) {
      if (!(thrown instanceof Problem) || chosen === own) throw thrown;
      return { printer: own, insteadOf: `Judged by this line’s limits instead of ${chosen.name}’s. ${thrown.message}` };
    }
  }

  /** The same as long as what the judgement by that night rests on is. */
  versionByNight(on: WoundSpool): string {
    return this.#versionOf(on, on.settings.limits);
  }

  /** A judgement that follows from another by something that was just recorded: it is the one to be given from now on. */
  remember(judged: Judgement): void {
    // Of a run that goes on, the last second of a spool that ended just now may not be written yet.
    if (isWinding(judged.on) || judged.on.run.endedMs === null) return;
    const key = keyOf(judged.on, judged.by);
    this.#judgements.delete(key);
    this.#judgements.set(key, { version: this.#versionOf(judged.on, judged.limits), value: judged });
    if (this.#judgements.size > REMEMBERED) this.#judgements.delete(this.#judgements.keys().next().value!);
  }

  /** The plan of a judged spool after these cuts. @throws as `planFor` */
  async planAfter(judged: Judgement, done: readonly DoneCut[]): Promise<CutPlan> {
    return judged.sections.length > PLANNED_HERE_MAX ? this.#parts.analyst.plan(judged, done) : planFor(judged, done);
  }

  /** @throws Problem `readings-thinned` where single readings were let go and nothing was kept of them */
  async examine({ on, limits }: Pick<Judgement, 'on' | 'limits'>): Promise<Examination> {
    const { statements, analyst, log } = this.#parts;
    const { id, runId } = on.spool;
    if (isWinding(on)) return plainExamination(await this.ask({ on, limits }, 'examine', {}));
    const inputs = examinationInputs(on, limits);
    const known = this.#examinations.get(`${id}`);
    if (known?.version === inputs) return known.value;
    return shared(this.#examining, `${id} ${inputs}`, async () => {
      let examination = examinationFrom(statements.examination(id, inputs));
      if (examination === null) {
        examination = plainExamination(await this.ask({ on, limits }, 'examine', {}));
        if (!(await analyst.isComplete(runId, on.endGaugeMm, on.run.endedMs !== null))) return examination;
        try {
          statements.keepExamination(id, inputs, examination);
        } catch (thrown) {
          // It is derived: a full disk costs nothing but reading the spool again.
          log.warn('What was read of a spool could not be kept', { spool: on.name, why: String(thrown) });
        }
      }
      this.#examinations.set(`${id}`, { version: inputs, value: examination });
      if (this.#examinations.size > REMEMBERED) this.#examinations.delete(this.#examinations.keys().next().value!);
      return examination;
    });
  }

  /** @throws Problem `readings-thinned` */
  ask<Name extends QuestionName>(
    { on, limits }: Pick<Judgement, 'on' | 'limits'>,
    what: Name,
    given: Questions[Name]['given'],
  ): Promise<Questions[Name]['answer']> {
    const { startGaugeMm, endGaugeMm, scale } = on;
    const spool: SpoolCase = { startGaugeMm, endGaugeMm, lengthFactor: scale.factor, limits, growing: isWinding(on) };
    return this.#parts.analyst.ask(on.run.id, spool, what, given);
  }

  async #judged(on: WoundSpool, by: JudgedBy): Promise<Judgement> {
    const limits = by.kind === 'run' ? on.settings.limits : this.limitsBy(on, by.printer);
    const version = this.#versionOf(on, limits);
    const known = this.#judgements.get(keyOf(on, by));
    if (known?.version === version) return { ...known.value, on };
    return shared(this.#judging, `${keyOf(on, by)} ${version}`, () => this.#judgeAgain(on, by, limits));
  }

  async #judgeAgain(on: WoundSpool, by: JudgedBy, limits: StrandLimits): Promise<Judgement> {
    const found = await this.#found(on, by, limits);
    // Only coils have a weight, and those of that night are not cut.
    const meanDiameterMm = by.kind === 'run' ? null : await this.meanDiameterMm(on);
    const { shortestCoilMm } = this.#parts.settings();
    const given = [on, by, limits, found, { shortestCoilMm, meanDiameterMm }] as const;
    const judged =
      found.sections.length > PLANNED_HERE_MAX
        ? { ...(await this.#parts.analyst.judge(...given)), on }
        : judgementOf(...given);
    this.remember(judged);
    return judged;
  }

  async #found(on: WoundSpool, by: JudgedBy, limits: StrandLimits): Promise<Found> {
    const recorded = async (basis: 'recorded' | 'night'): Promise<Found> => ({
      basis,
      sections: withUnseenEnds(on.recorded, on, await this.#measured(on)),
    });
    if (by.kind === 'run') return recorded('recorded');
    if (on.settings.foundByThese && sameLimits(limits, on.settings.limits)) return recorded('recorded');
    try {
      const sections = isWinding(on)
        ? await this.ask({ on, limits }, 'sections', {})
        : (await this.examine({ on, limits })).found;
      return { basis: 'readings', sections };
    } catch (thrown) {
      if (thrown instanceof Problem && thrown.code === 'readings-thinned') return recorded('night');
      throw thrown;
    }
  }

  async #measured(on: WoundSpool): Promise<MeasuredStretch> {
    const extent = await this.#parts.samples.extent(on.run.id);
    if (extent === null) return null;
    const { count, fromGaugeMm, toGaugeMm, fromMs, toMs } = extent;
    return { fromGaugeMm, toGaugeMm, fromMs, toMs, pitchMm: count < 2 ? 0 : (toGaugeMm - fromGaugeMm) / (count - 1) };
  }

  /**
   * Diameter of equal cross-section, √ of the mean square along the length, from summaries of the readings: it is known
   * without reading them all, and after they were let go. Columns without strand in part count for nothing.
   */
  async meanDiameterMm(on: WoundSpool): Promise<number | null> {
    const { startGaugeMm, endGaugeMm } = on;
    const version = `${startGaugeMm} ${endGaugeMm} ${on.run.endedMs}`;
    const known = this.#means.get(on.name);
    if (known?.version === version) return known.value;
    const { channels, count } = await this.#parts.samples.window({
      runId: on.run.id,
      axis: 'length',
      from: startGaugeMm,
      to: Math.max(endGaugeMm, startGaugeMm + 1),
      columns: MEAN_COLUMNS,
      channels: ['d'],
      spread: true,
    });
    const { nominalMm, strandPresentMm } = on.settings.limits;
    const d = channels.d;
    const squares = count.flatMap((n, i) => {
      const [mean, min, max] = [d?.mean[i] ?? null, d?.min[i] ?? null, d?.max[i] ?? null];
      if (mean === null || min === null || max === null || min < strandPresentMm || !canBeStrand(max, nominalMm))
        return [];
      const sd = d?.sd?.[i] ?? 0;
      return [mean * mean + ((n - 1) / n) * sd * sd];
    });
    const mean = squares.length === 0 ? null : Math.sqrt(squares.reduce((a, b) => a + b, 0) / squares.length);
    this.#means.set(on.name, { version, value: mean });
    if (this.#means.size > REMEMBERED) this.#means.delete(this.#means.keys().next().value!);
    return mean;
  }

  /**
   * Names that were given by number, in a record of before, are looked up once, in the plan that everyone saw then. One
   * whose coil that plan does not make stays without a place.
   * @returns whether any got its place
   */
  async #placedNames(on: WoundSpool): Promise<boolean> {
    const byNumber = on.givenNames.filter(({ place }) => place === null);
    if (isWinding(on) || byNumber.length === 0) return false;
    const asThen = { ...on, choices: USUAL_CHOICES };
    const { plan } = await this.#judged(asThen, { kind: 'printer', printer: linePrinter(this.#parts.settings()) });
    const placed = byNumber.flatMap(({ id, coil }) => {
      const of = plan?.coils[coil - 1];
      return of === undefined
        ? []
        : [{ id, place: { fromGaugeMm: gaugeMmAt(on, of.fromMm), toGaugeMm: gaugeMmAt(on, of.toMm) } }];
    });
    for (const { id, place } of placed) this.#parts.statements.placeCoilName(id, place);
    return placed.length > 0;
  }

  /** All that a judgement rests on; recorded sections of a run that is over change with the spool's start only. */
  #versionOf(on: WoundSpool, limits: StrandLimits): string {
    const { startGaugeMm, endGaugeMm, reachGaugeMm, scale, settings, stated, cuts, givenNames, choices } = on;
    return JSON.stringify([
      [startGaugeMm, endGaugeMm, reachGaugeMm, scale, settings, limits, choices],
      [stated.length, stated.at(-1)?.id, cuts.map(({ id }) => id), givenNames],
      [on.run.endedMs, on.spool.endedMs, this.#parts.settings().shortestCoilMm],
    ]);
  }
}

/** Those who ask for the same while it is being worked out get the same. */
function shared<T>(underWay: Map<string, Promise<T>>, key: string, work: () => Promise<T>): Promise<T> {
  const going = underWay.get(key) ?? work().finally(() => underWay.delete(key));
  underWay.set(key, going);
  return going;
}

function keyOf(on: WoundSpool, by: JudgedBy): string {
  const whose = by.kind === 'run' ? 'night' : `${by.printer.id} ${by.printer.name}`;
  return `${on.spool.id} ${whose} ${JSON.stringify(on.choices)}`;
}

/** Whether anything is on it to be judged. @throws Problem `wrong-state` */
export function refuseEmpty(on: WoundSpool): void {
  if (Math.round(woundMm(on)) > 0) return;
  throw new Problem(
    'wrong-state',
    `Spool ${on.name} is empty: there is nothing to judge.`,
    'Wind it first, or choose another spool.',
  );
}
