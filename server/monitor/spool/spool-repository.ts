import type { BinnedKind } from '../../entities/bin.ts';
import type { Run } from '../../entities/run.ts';
import type { Spool, SpoolChoices } from '../../entities/spool.ts';
import { Problem } from '../../problem/problem.ts';
import type { LineSettings } from '../../settings/line-settings.ts';
import { cutOutsOf } from '../../strand/effective-sections.ts';
import type { MeasuredSection } from '../../strand/section.ts';
import { LINE_PRINTER_ID } from '../../strand/verdict/printer-profile.ts';
import type { RecordReader, UnreadableSection } from '../ports/record.ts';
import type { SpoolStatements } from '../ports/spool-statements.ts';
import { currentRunSettings, type SpoolSettings, settingsOf } from '../run/run-settings.ts';
import { lengthScaleOf } from './length-service.ts';
import { spoolCode, spoolName, USUAL_CHOICES, type WoundSpool } from './wound-spool.ts';

export interface SpoolRepositoryParts {
  readonly reader: RecordReader;
  readonly statements: SpoolStatements;
  settings(): LineSettings;
  /** Where a spool ends, or where the winder is on the spool being wound. */
  endGaugeMm(spool: Spool): number;
  /** Recorded sections of a run, open ones included. */
  measuredSections(runId: number): readonly MeasuredSection[];
}

const REMEDY = 'Open the list of runs and choose one there.';

/** The only place that collects everything about a spool. */
export class SpoolRepository {
  readonly #parts: SpoolRepositoryParts;

  constructor(parts: SpoolRepositoryParts) {
    this.#parts = parts;
  }

  /** @throws Problem `unknown-run` */
  run(runId: number): Run {
    const run = this.#parts.reader.run(runId);
    if (run === null) throw this.#missing('run', runId);
    return run;
  }

  /** @throws Problem `unknown-spool` */
  spool(spoolId: number): Spool {
    const spool = this.#parts.reader.spool(spoolId);
    if (spool === null) throw this.#missing('spool', spoolId);
    return spool;
  }

  /** @throws Problem `unknown-spool` */
  wound(spoolId: number): WoundSpool {
    const spool = this.spool(spoolId);
    return this.#build(this.run(spool.runId), spool, this.#parts.reader.spools(spool.runId));
  }

  /** All spools of a run, in the order in which they were wound. */
  ofRun(run: Run): readonly WoundSpool[] {
    const spools = this.#parts.reader.spools(run.id);
    return spools.map((spool) => this.#build(run, spool, spools));
  }

  /** How many entries of a run could not be read so far. */
  unreadableRows(runId: number): number {
    return this.#parts.reader.unreadableRows(runId);
  }

  /** The last settings of a run, also for strand that is on no spool. */
  settingsOfRun(runId: number): SpoolSettings {
    return this.settingsOver(runId, 0, Number.POSITIVE_INFINITY);
  }

  /** The settings in force while the strand between two gauge lengths passed. */
  settingsOver(runId: number, fromGaugeMm: number, toGaugeMm: number): SpoolSettings {
    const { reader, settings } = this.#parts;
    return settingsOf(fromGaugeMm, toGaugeMm, reader.runSettings(runId), currentRunSettings(settings(), 0));
  }

  /**
   * Checks after a slow request that the spool still has the same strand.
   * @throws Problem `wrong-state` if its start or end has changed
   */
  requireUnmoved(before: Spool): void {
    const now = this.spool(before.id);
    if (now.startGaugeMm === before.startGaugeMm && now.endGaugeMm === before.endGaugeMm) return;
    throw new Problem(
      'wrong-state',
      `Spool ${now.ordinal} has changed: it ended, or its start was moved on another page.`,
      'Load the spool again, then retry.',
    );
  }

  #missing(kind: BinnedKind, id: number): Problem {
    const code = kind === 'run' ? 'unknown-run' : 'unknown-spool';
    const binned = this.#parts.reader.binned().find((one) => one.kind === kind && one.id === id);
    if (binned === undefined) return new Problem(code, `There is no ${kind} ${id}.`, REMEDY);
    const name = binned.ordinal === null ? `Run ${id}` : `Spool ${binned.ordinal} of run ${binned.runId}`;
    return new Problem(
      code,
      `${name} was deleted and is in the bin.`,
      'Leave it out, or restore it: the bin is below the list of runs.',
    );
  }

  /** Replaces a printer that has been removed by the line's own limits. */
  #choices(spoolId: number): SpoolChoices {
    const { statements } = this.#parts;
    const choices = statements.choices(spoolId) ?? USUAL_CHOICES;
    return statements.printer(choices.printerId) === null ? { ...choices, printerId: LINE_PRINTER_ID } : choices;
  }

  #build(run: Run, spool: Spool, ofRun: readonly Spool[]): WoundSpool {
    const { reader, statements } = this.#parts;
    const { startGaugeMm } = spool;
    const endGaugeMm = this.#parts.endGaugeMm(spool);
    const stated = reader.statedSections(run.id);
    const next = ofRun.find(({ ordinal }) => ordinal === spool.ordinal + 1);
    const reachGaugeMm = next?.startGaugeMm ?? Number.POSITIVE_INFINITY;
    const correction = statements.lengthCorrection(spool.id);
    const { measuredSections } = this.#parts;
    const { unreadableSections } = reader;
    // Read on demand, because lists of runs need no sections.
    let recorded: readonly MeasuredSection[] | null = null;
    let unreadable: readonly UnreadableSection[] | null = null;
    return {
      run,
      spool,
      name: spoolName(run, spool),
      code: spoolCode(run, spool, reader.house()),
      startGaugeMm,
      endGaugeMm,
      reachGaugeMm,
      scale: lengthScaleOf(correction),
      correction,
      weighing: statements.weighing(spool.id),
      settings: this.settingsOver(run.id, startGaugeMm, endGaugeMm),
      get recorded() {
        recorded ??= measuredSections(run.id);
        return recorded;
      },
      get unreadable() {
        unreadable ??= unreadableSections(run.id).filter(
          ({ fromMm, toMm }) => toMm > startGaugeMm && fromMm < endGaugeMm,
        );
        return unreadable;
      },
      stated,
      cutOuts: cutOutsOf(stated).filter(({ fromMm, toMm }) => toMm > startGaugeMm && fromMm < reachGaugeMm),
      cuts: statements.cuts(spool.id),
      coilNames: statements.coilNames(spool.id),
      choices: this.#choices(spool.id),
    };
  }
}
