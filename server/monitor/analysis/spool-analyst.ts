import type { CutPlan } from '../../strand/plan/cut-plan.ts';
import { canBeStrand } from '../../strand/possible-diameter.ts';
import type { MeasuredSection } from '../../strand/section.ts';
import type { StrandLimits } from '../../strand/strand-limits.ts';
import { buffersOf } from '../../worker/calls.ts';
import { type OpenWorker, openWorker, workerCode } from '../../worker/open-worker.ts';
import type { SampleColumnsReader, SampleReader } from '../ports/samples.ts';
import type { Judgement, judgementOf, planFor } from '../spool/judgement.ts';
import type { SpoolCase } from './spool-case.ts';
import type { SpoolColumns } from './spool-columns.ts';
import { createSpoolFunctions, type Question, type QuestionName, type Questions } from './spool-functions.ts';

/** The detector needs some strand before a spool to know what is usual there, and some behind to see how a section ends. */
const BESIDE_MM = 2000;

/** A night's readings take some 100 MB: given back when nobody asks any more. */
const IDLE_MS = 60_000;

type AnalysisWorker = OpenWorker<ReturnType<typeof createSpoolFunctions>>;

/** Whose readings the worker holds, and up to which gauge length. */
interface Held {
  readonly runId: number;
  readonly startGaugeMm: number;
  readonly toGaugeMm: number;
}

/**
 * Asks about all readings of a spool, on a worker: judging a night takes half a second. The readings of the spool that was asked about last stay
 * there; where it grows, only those that are new are fetched.
 */
export class SpoolAnalyst {
  readonly #samples: SampleReader & SampleColumnsReader;
  #worker: AnalysisWorker | null = null;
  #held: Held | null = null;
  #turn: Promise<unknown> = Promise.resolve();
  #open = 0;
  #idle: NodeJS.Timeout | undefined;

  constructor(samples: SampleReader & SampleColumnsReader) {
    this.#samples = samples;
  }

  /** @throws Problem `readings-thinned` where single readings were let go */
  async ask<Name extends QuestionName>(
    runId: number,
    spool: SpoolCase,
    what: Name,
    given: Questions[Name]['given'],
  ): Promise<Questions[Name]['answer']> {
    const question = { ...given, what, spool } as unknown as Question;
    return this.#inUse(async () => {
      // One at a time: no other readings may come between these and the question about them.
      const asked = this.#turn.then(async () => {
        const worker = await this.#bring(runId, spool);
        return { answer: worker.call('answer', [question]) };
      });
      this.#turn = asked.then(
        () => undefined,
        () => undefined,
      );
      return (await (
        await asked
      ).answer) as Questions[Name]['answer'];
    });
  }

  /** `judgementOf` on the worker. */
  judge(...given: Parameters<typeof judgementOf>): Promise<Judgement> {
    return this.#inUse(() => this.#running().call('judge', given));
  }

  /** `planFor` on the worker. */
  plan(...given: Parameters<typeof planFor>): Promise<CutPlan> {
    return this.#inUse(() => this.#running().call('plan', given));
  }

  /** What the detector finds between two gauge lengths of a run, whether that strand is on a spool or not. */
  sectionsBetween(
    runId: number,
    fromGaugeMm: number,
    toGaugeMm: number,
    limits: StrandLimits,
  ): Promise<readonly MeasuredSection[]> {
    const strand = { startGaugeMm: fromGaugeMm, endGaugeMm: toGaugeMm, lengthFactor: 1, limits, growing: false };
    return this.ask(runId, strand, 'sections', {});
  }

  /** Whether all readings that a judgement of the spool could need are stored: then it will not change any more. */
  async isComplete(runId: number, endGaugeMm: number, runEnded: boolean): Promise<boolean> {
    if (runEnded) return true;
    const extent = await this.#samples.extent(runId);
    return extent !== null && extent.toGaugeMm > endGaugeMm + BESIDE_MM;
  }

  async stop(): Promise<void> {
    clearTimeout(this.#idle);
    const ending = this.#worker;
    this.#worker = null;
    this.#held = null;
    await ending?.terminate();
  }

  async #inUse<T>(work: () => Promise<T>): Promise<T> {
    clearTimeout(this.#idle);
    this.#open++;
    try {
      return await work();
    } finally {
      if (--this.#open === 0) this.#idle = setTimeout(() => void this.stop(), IDLE_MS).unref();
    }
  }

  /** The worker, with the readings of a spool. */
  async #bring(runId: number, spool: SpoolCase): Promise<AnalysisWorker> {
    const { startGaugeMm, endGaugeMm, limits } = spool;
    const extent = await this.#samples.extent(runId);
    const toGaugeMm = Math.min(endGaugeMm + BESIDE_MM, extent?.toGaugeMm ?? 0);
    const worker = this.#running();
    const held = this.#held;
    const same = held?.runId === runId && held.startGaugeMm === startGaugeMm ? held : null;
    if (same !== null && toGaugeMm <= same.toGaugeMm) return worker;
    const has = (name: string) => extent?.channels.some((channel) => channel.name === name) === true;
    const twoAxes = has('dx') && has('dy');
    const { timeMs, gaugeMm, values } = await this.#samples.readings(
      runId,
      same?.toGaugeMm ?? startGaugeMm - BESIDE_MM,
      endGaugeMm + BESIDE_MM,
      twoAxes ? ['d', 'dx', 'dy'] : ['d'],
    );
    const columns: SpoolColumns = {
      timeMs,
      gaugeMm,
      // What the line took for no diameter is none here either.
      diameterMm: values.d!.map((mm) => (canBeStrand(mm, limits.nominalMm) ? mm : Number.NaN)),
      axesMm: twoAxes ? { x: values.dx!, y: values.dy! } : null,
    };
    const last = gaugeMm.at(-1);
    const { x, y } = columns.axesMm ?? {};
    const arrays = [timeMs, gaugeMm, columns.diameterMm, ...(x && y ? [x, y] : [])];
    this.#held = null;
    await worker.call('take', [columns, same !== null], buffersOf(arrays));
    this.#held = { runId, startGaugeMm, toGaugeMm: Math.max(last ?? toGaugeMm, same?.toGaugeMm ?? 0) };
    return worker;
  }

  /** One that died took the readings with it: another starts. */
  #running(): AnalysisWorker {
    if (this.#worker === null || this.#worker.ended) {
      const code = workerCode(import.meta.url, 'analysis-worker');
      this.#worker = openWorker({ task: 'judges spools', code, create: createSpoolFunctions, start: null });
      this.#held = null;
    }
    return this.#worker;
  }
}
