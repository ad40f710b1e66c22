import { canBeStrand } from '../../strand/possible-diameter.ts';
import type { MeasuredSection } from '../../strand/section.ts';
import type { StrandLimits } from '../../strand/strand-limits.ts';
import type { SampleColumnsReader, SampleReader } from '../ports.ts';
import { type AnalysisRoom, analysisRoom } from './analysis-thread.ts';
import type { Question, QuestionName, Questions } from './questions.ts';
import type { SpoolCase } from './spool-case.ts';
import type { SpoolColumns } from './spool-columns.ts';

/** The detector needs some strand before a spool to know what is usual there, and some behind to see how a section ends. */
export const BESIDE_MM = 2000;

/** Whose readings the analysis holds, and up to which gauge length. */
interface Held {
  readonly runId: number;
  readonly startGaugeMm: number;
  readonly toGaugeMm: number;
}

/**
 * Asks about all readings of a spool, on a thread of its own. The readings of the spool that was asked about last stay
 * there; where it grows, only those that are new are fetched.
 */
export class SpoolAnalyst {
  readonly #samples: SampleReader & SampleColumnsReader;
  readonly #room: AnalysisRoom = analysisRoom();
  #held: Held | null = null;
  #turn: Promise<unknown> = Promise.resolve();

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
    // One at a time: no other readings may come between these and the question about them.
    const answer = this.#turn.then(async () => {
      await this.#bring(runId, spool);
      return { pending: this.#room.ask(question) };
    });
    this.#turn = answer.then(
      () => undefined,
      () => undefined,
    );
    return (await answer).pending as Promise<Questions[Name]['answer']>;
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
    await this.#room.stop();
  }

  async #bring(runId: number, spool: SpoolCase): Promise<void> {
    const { startGaugeMm, endGaugeMm, limits } = spool;
    const extent = await this.#samples.extent(runId);
    const toGaugeMm = Math.min(endGaugeMm + BESIDE_MM, extent?.toGaugeMm ?? 0);
    const held = this.#held;
    const same = this.#room.holds && held?.runId === runId && held.startGaugeMm === startGaugeMm ? held : null;
    if (same !== null && toGaugeMm <= same.toGaugeMm) return;
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
    this.#held = { runId, startGaugeMm, toGaugeMm: Math.max(last ?? toGaugeMm, same?.toGaugeMm ?? 0) };
    this.#room.give(columns, same !== null);
  }
}
