import type { effectsOf } from '../../nights/effects.ts';
import type { trendsOfNights } from '../../nights/trend-figures.ts';
import type { CutPlan } from '../../strand/plan/cut-plan.ts';
import { canBeStrand } from '../../strand/possible-diameter.ts';
import type { relatedReadings } from '../../strand/relation/related-readings.ts';
import type { MeasuredSection } from '../../strand/section.ts';
import type { StrandLimits } from '../../strand/strand-limits.ts';
import { buffersOf } from '../../worker/calls.ts';
import { type OpenWorker, openWorker, workerCode } from '../../worker/open-worker.ts';
import { WhileUsed } from '../../worker/while-used.ts';
import type { SampleColumnsReader, SampleReader } from '../ports/samples.ts';
import type { Judgement, judgementOf, planFor } from '../spool/judgement.ts';
import type { AnalysedSpool, SpoolColumns } from './spool-columns.ts';
import { createSpoolFunctions, type Question, type QuestionName, type Questions } from './spool-functions.ts';

/** The detector needs some strand before a spool for reference, and some after it to find where a section ends. */
const MARGIN_MM = 2000;

/** The readings of a night take about 100 MB, so an idle worker is stopped. */
const STOP_IDLE_AFTER_MS = 60_000;

type AnalysisWorker = OpenWorker<ReturnType<typeof createSpoolFunctions>>;

/** The readings that the worker holds. */
interface LoadedReadings {
  readonly runId: number;
  readonly startGaugeMm: number;
  readonly toGaugeMm: number;
  /** Of the run's first reading; another one after its date was corrected. */
  readonly fromMs: number | undefined;
}

/**
 * Analyses all readings of a spool on a worker, because judging a night takes half a second. The worker keeps the readings
 * of the last spool; while that grows, only new readings are loaded.
 */
export class SpoolAnalyst {
  readonly #samples: SampleReader & SampleColumnsReader;
  #worker: AnalysisWorker | null = null;
  #loaded: LoadedReadings | null = null;
  #lastLoad: Promise<unknown> = Promise.resolve();
  readonly #use = new WhileUsed(STOP_IDLE_AFTER_MS, () => void this.stop());

  constructor(samples: SampleReader & SampleColumnsReader) {
    this.#samples = samples;
  }

  /** @throws Problem `readings-thinned` if single readings were deleted */
  async ask<Name extends QuestionName>(
    runId: number,
    spool: AnalysedSpool,
    what: Name,
    input: Questions[Name]['input'],
  ): Promise<Questions[Name]['answer']> {
    const question = { ...input, what, spool } as unknown as Question;
    return this.#use.run(async () => {
      // One at a time, so that no other readings are loaded before the question is asked.
      const asked = this.#lastLoad.then(async () => {
        const worker = await this.#load(runId, spool);
        return { answer: worker.call('answer', [question]) };
      });
      this.#lastLoad = asked.then(
        () => undefined,
        () => undefined,
      );
      const { answer } = await asked;
      return (await answer) as Questions[Name]['answer'];
    });
  }

  /** `judgementOf` on the worker. */
  judge(...input: Parameters<typeof judgementOf>): Promise<Judgement> {
    return this.#use.run(() => this.#runningWorker().call('judge', input));
  }

  /** `planFor` on the worker. */
  plan(...input: Parameters<typeof planFor>): Promise<CutPlan> {
    return this.#use.run(() => this.#runningWorker().call('plan', input));
  }

  /** `relatedReadings` on the worker. */
  relate(...input: Parameters<typeof relatedReadings>): Promise<ReturnType<typeof relatedReadings>> {
    return this.#use.run(() => this.#runningWorker().call('relate', input));
  }

  /** `effectsOf` on the worker: with two thousand nights it takes a quarter of a second. */
  effects(...input: Parameters<typeof effectsOf>): Promise<ReturnType<typeof effectsOf>> {
    return this.#use.run(() => this.#runningWorker().call('effects', input));
  }

  /** `trendsOfNights` on the worker. */
  trends(...input: Parameters<typeof trendsOfNights>): Promise<ReturnType<typeof trendsOfNights>> {
    return this.#use.run(() => this.#runningWorker().call('trends', input));
  }

  /** Sections between two gauge lengths of a run, on a spool or not. */
  sectionsBetween(
    runId: number,
    fromGaugeMm: number,
    toGaugeMm: number,
    limits: StrandLimits,
  ): Promise<readonly MeasuredSection[]> {
    const strand = {
      startGaugeMm: fromGaugeMm,
      endGaugeMm: toGaugeMm,
      lengthFactor: 1,
      cutOuts: [],
      limits,
      growing: false,
    };
    return this.ask(runId, strand, 'sections', {});
  }

  /** Whether all readings that affect a spool are stored, so that its examination is final. */
  async isComplete(runId: number, endGaugeMm: number, runEnded: boolean): Promise<boolean> {
    if (runEnded) return true;
    const extent = await this.#samples.extent(runId);
    return extent !== null && extent.toGaugeMm > endGaugeMm + MARGIN_MM;
  }

  async stop(): Promise<void> {
    this.#use.cancel();
    const ending = this.#worker;
    this.#worker = null;
    this.#loaded = null;
    await ending?.terminate();
  }

  /** Loads the readings of a spool into the worker. */
  async #load(runId: number, spool: AnalysedSpool): Promise<AnalysisWorker> {
    const { startGaugeMm, endGaugeMm, limits } = spool;
    const extent = await this.#samples.extent(runId);
    const toGaugeMm = Math.min(endGaugeMm + MARGIN_MM, extent?.toGaugeMm ?? 0);
    const worker = this.#runningWorker();
    const loaded = this.#loaded;
    const fromMs = extent?.fromMs;
    const isSame = loaded?.runId === runId && loaded.startGaugeMm === startGaugeMm && loaded.fromMs === fromMs;
    const same = isSame ? loaded : null;
    if (same !== null && toGaugeMm <= same.toGaugeMm) return worker;
    const has = (name: string) => extent?.signals.some((signal) => signal.name === name) === true;
    const twoAxes = has('dx') && has('dy');
    const { timeMs, gaugeMm, values } = await this.#samples.readings(
      runId,
      same?.toGaugeMm ?? startGaugeMm - MARGIN_MM,
      endGaugeMm + MARGIN_MM,
      twoAxes ? ['d', 'dx', 'dy'] : ['d'],
    );
    const { d = new Float64Array(), dx: x, dy: y } = values;
    // Impossible values are treated as missing, as on the live line.
    const diameterMm = d.map((mm) => (canBeStrand(mm, limits.nominalMm) ? mm : Number.NaN));
    const axesMm = x !== undefined && y !== undefined ? { x, y } : null;
    const columns: SpoolColumns = { timeMs, gaugeMm, diameterMm, axesMm };
    const last = gaugeMm.at(-1);
    const arrays = [timeMs, gaugeMm, diameterMm, ...(axesMm === null ? [] : [axesMm.x, axesMm.y])];
    this.#loaded = null;
    await worker.call('load', [columns, same !== null], buffersOf(arrays));
    this.#loaded = { runId, startGaugeMm, toGaugeMm: Math.max(last ?? toGaugeMm, same?.toGaugeMm ?? 0), fromMs };
    return worker;
  }

  /** Starts a worker if there is none, or if the last one has died. */
  #runningWorker(): AnalysisWorker {
    if (this.#worker === null || this.#worker.ended) {
      const code = workerCode(import.meta.url, 'analysis-worker');
      this.#worker = openWorker({ task: 'judges spools', code, create: createSpoolFunctions, start: null });
      this.#loaded = null;
    }
    return this.#worker;
  }
}
