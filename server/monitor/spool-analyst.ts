import { Problem } from '../problem/problem.ts';
import type { LineSettings } from '../settings/line-settings.ts';
import { canBeStrand } from '../strand/possible-diameter.ts';
import type { MeasuredSection } from '../strand/section.ts';
import type { StrandLimits } from '../strand/strand-limits.ts';
import { checkPrinterProfile } from '../strand/verdict/printer-profile.ts';
import { type AnalysisRoom, analysisRoom } from './analysis/analysis-thread.ts';
import type { Question, QuestionName, Questions } from './analysis/questions.ts';
import type { SpoolCase, SpoolColumns } from './analysis/spool-case.ts';
import { lengthScaleOf } from './length-desk.ts';
import type { Printer, RecordReader, SampleColumnsReader, SampleReader, Spool, SpoolWords } from './ports.ts';
import { runSettingsNow, settingsOf } from './run-settings.ts';
import { strandLimits } from './settings-to-parts.ts';

export interface SpoolAnalystParts {
  readonly reader: RecordReader;
  readonly samples: SampleReader & SampleColumnsReader;
  readonly words: SpoolWords;
  settings(): LineSettings;
  woundMm(spool: Spool): number;
  /** Measured sections of a run, those that are still growing included. */
  measured(runId: number): readonly MeasuredSection[];
}

/** The printer that stands for the line's own limits, as they are set for the line. */
export const LINE_PRINTER_ID = 0;

/** The detector needs some strand before a spool to know what is usual there, and some behind to see how a section ends. */
const BESIDE_MM = 2000;

/** Of strand that is on no spool: nothing was said of it. */
const BARE_CASE = {
  name: '',
  lengthFactor: 1,
  lengthShare: 0,
  printerName: '',
  recorded: [],
  stated: [],
  densityGPerCm3: 1,
  shortestCoilMm: 0,
};

/** Answers questions about whole spools: judged anew for any printer, planned, taken apart into waves. */
export class SpoolAnalyst {
  readonly #parts: SpoolAnalystParts;
  readonly #room: AnalysisRoom = analysisRoom();
  #given: string | null = null;
  #turn: Promise<unknown> = Promise.resolve();

  constructor(parts: SpoolAnalystParts) {
    this.#parts = parts;
  }

  /** @throws Problem of the analysis: wrong-state for an empty spool, bad-request for limits that cannot be */
  async ask<Name extends QuestionName>(
    spool: Spool,
    printer: Printer,
    what: Name,
    given: Questions[Name]['given'],
  ): Promise<Questions[Name]['answer']> {
    return this.#ask(spool.runId, this.caseOf(spool, printer), what, given);
  }

  /** What the detector finds in strand of the run of a spool, by the limits that the spool was wound under; gauge length, mm. */
  async sectionsBetween(spool: Spool, fromGaugeMm: number, toGaugeMm: number): Promise<readonly MeasuredSection[]> {
    const { reader, settings } = this.#parts;
    const kept = reader.runSettings(spool.runId);
    const { limits } = settingsOf({ startGaugeMm: fromGaugeMm }, toGaugeMm, kept, runSettingsNow(settings(), 0));
    const about = { startGaugeMm: fromGaugeMm, endGaugeMm: toGaugeMm, limits };
    return this.#ask(spool.runId, { ...BARE_CASE, ...about }, 'sections', {});
  }

  async #ask<Name extends QuestionName>(
    runId: number,
    about: SpoolCase,
    what: Name,
    given: Questions[Name]['given'],
  ): Promise<Questions[Name]['answer']> {
    const question = { ...given, what, spool: about } as unknown as Question;
    // One at a time: nobody else's readings may come between these and the question about them.
    const answer = this.#turn.then(async () => {
      const key = await this.#keyOf(runId, about);
      if (key !== this.#given || !this.#room.holds) {
        const columns = await this.#columns(runId, about);
        this.#room.give(columns);
        this.#given = key;
      }
      return { pending: this.#room.ask(question) };
    });
    this.#turn = answer.then(
      () => undefined,
      () => undefined,
    );
    return (await answer).pending as Promise<Questions[Name]['answer']>;
  }

  /** @throws Problem bad-request for a printer whose limits cannot be */
  caseOf(spool: Spool, printer: Printer): SpoolCase {
    const { words, reader } = this.#parts;
    const settings = this.#parts.settings();
    const endGaugeMm = spool.startGaugeMm + this.#parts.woundMm(spool);
    const then = settingsOf(spool, endGaugeMm, reader.runSettings(spool.runId), runSettingsNow(settings, 0));
    const limits = limitsOn(then.limits, printer, settings);
    const scale = lengthScaleOf(words.lengthCorrection(spool.id));
    return {
      name: nameOfSpool(spool),
      startGaugeMm: spool.startGaugeMm,
      endGaugeMm,
      lengthFactor: scale.factor,
      lengthShare: scale.share,
      limits,
      printerName: printer.id === LINE_PRINTER_ID ? 'the printer set for this line' : printer.name,
      recorded: this.#parts.measured(spool.runId),
      stated: reader.statedSections(spool.runId),
      densityGPerCm3: then.densityGPerCm3,
      shortestCoilMm: settings.shortestCoilMm,
    };
  }

  async stop(): Promise<void> {
    await this.#room.stop();
  }

  /** The same key means the same readings: those of a spool that was taken off do not change any more. */
  async #keyOf(runId: number, about: SpoolCase): Promise<string> {
    const extent = await this.#parts.samples.extent(runId);
    const toMm = Math.min(about.endGaugeMm + BESIDE_MM, extent?.toGaugeMm ?? 0);
    return `${runId} ${about.startGaugeMm} ${about.endGaugeMm} ${toMm}`;
  }

  async #columns(runId: number, about: SpoolCase): Promise<SpoolColumns> {
    const { samples } = this.#parts;
    const extent = await samples.extent(runId);
    const has = (name: string) => extent?.channels.some((channel) => channel.name === name) === true;
    const twoAxes = has('dx') && has('dy');
    const { timeMs, gaugeMm, values } = await samples.readings(
      runId,
      about.startGaugeMm - BESIDE_MM,
      about.endGaugeMm + BESIDE_MM,
      twoAxes ? ['d', 'dx', 'dy'] : ['d'],
    );
    return {
      timeMs,
      gaugeMm,
      // What the line took for no diameter is none here either.
      diameterMm: values.d!.map((mm) => (canBeStrand(mm, about.limits.nominalMm) ? mm : Number.NaN)),
      axesMm: twoAxes ? { x: values.dx!, y: values.dy! } : null,
    };
  }
}

/** As verdict, plan and coils call a spool: run 3, spool 1. */
export function nameOfSpool(spool: Spool): string {
  return `R${spool.runId}-${spool.ordinal}`;
}

/**
 * Limits for a spool. Strand of another nominal diameter than the line is set to now was wound for other printers: by the
 * line itself it is judged as it was then.
 */
function limitsOn(then: StrandLimits, printer: Printer, settings: LineSettings): StrandLimits {
  if (then.nominalMm === settings.nominalMm) return limitsFor(printer, settings);
  return printer.id === LINE_PRINTER_ID ? then : limitsFor(printer, { ...settings, ...then });
}

/** The limits of the line with those of a printer. @throws Problem bad-request */
export function limitsFor(printer: Printer, settings: LineSettings): StrandLimits {
  const own = strandLimits(settings);
  checkPrinterProfile(printer, own.nominalMm);
  if (!(own.strandPresentMm < printer.leastFeedableMm))
    throw new Problem(
      'bad-request',
      `Printer ${printer.name}: the least feedable diameter (${printer.leastFeedableMm} mm) is not above ${own.strandPresentMm} mm, below which this line sees no strand at all.`,
      'Raise it, or lower “No strand below” in the settings of the line.',
    );
  const { hotendLimitMm, leastFeedableMm, toleranceMm } = printer;
  return { ...own, hotendLimitMm, leastFeedableMm, toleranceMm };
}
