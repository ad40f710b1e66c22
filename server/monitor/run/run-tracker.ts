import type { Run } from '../../entities/run.ts';
import type { Spool } from '../../entities/spool.ts';
import type { Stage } from '../../stage/stage.ts';
import { spoolStartGaugeMm, winderGaugeMm } from '../../strand/position.ts';
import type { WindingStart } from '../../strand/winder-turns.ts';
import type { RecordWriter } from '../ports/record.ts';
import type { LastSample } from '../ports/samples.ts';

export interface RunTrackerOptions {
  readonly stopAfterMin: number;
  readonly gaugeToWinderMm: number;
}

/** The line's position when runs and spools follow the stage. */
export interface LinePosition {
  readonly timeMs: number;
  readonly gaugeMm: number;
  /** Where the strand ended at the gauge if it was lost; null = it is unbroken. */
  readonly lostAtGaugeMm: number | null;
  /** Where winding started, if the winder's turns have just shown it. */
  readonly windingStart: WindingStart | null;
}

/** The spool on the winder. */
interface SpoolOnWinder {
  readonly spool: Spool;
  /** Path from gauge to winder when the spool started; a new setting applies from the next spool on. */
  readonly pathMm: number;
  /** The start is known from the winder's turns or from a user, so later turns don't move it. */
  readonly startKnown: boolean;
}

/** The winder's turns started again at 0: the spool was probably changed. */
export interface ProposedSpoolChange {
  readonly spool: Spool;
  /** Where the next spool would start. */
  readonly atGaugeMm: number;
}

/** A spool that short would not have been changed, mm. */
const CHANGED_AFTER_MM = 1000;

/** The stage as runs and spools follow it. */
export interface FollowedStage {
  readonly stage: Stage;
  readonly setByUser: boolean;
  /** Winding continued with the strand that was being wound before the line stood still. */
  readonly sameStrand: boolean;
}

/**
 * Starts and ends runs and spools as the stage changes.
 *
 * A run starts when the stage leaves `stopped`. It ends when the line has been stopped for the set time, or soon after a user
 * set `stopped`, which can be undone until then. A spool starts with winding. Strand that is at the winder then passed the gauge one path length earlier, so
 * the spool's innermost strand has gauge length L0 − path (conservation of length). The stage only estimates when winding
 * started; the winder's turns, if sent, correct it. A spool ends when the line stands still, and continues if the same strand
 * does.
 */
export class RunTracker {
  readonly #writer: RecordWriter;
  readonly #undoStopForMs: number;
  #options: RunTrackerOptions;
  #run: Run | null = null;
  #onWinder: SpoolOnWinder | null = null;
  /** The last spool of the run that ended without a spool change, and may continue. */
  #ended: SpoolOnWinder | null = null;
  #proposedChange: ProposedSpoolChange | null = null;
  #stoppedSinceMs: number | null = null;
  /** Where the previous spool ended; strand before that cannot be on this one. */
  #previousEndMm = Number.NEGATIVE_INFINITY;

  /** @param undoStopForMs how long a stop that a user set can be undone */
  constructor(writer: RecordWriter, options: RunTrackerOptions, undoStopForMs: number) {
    this.#writer = writer;
    this.#options = options;
    this.#undoStopForMs = undoStopForMs;
  }

  get run(): Run | null {
    return this.#run;
  }

  get spool(): Spool | null {
    return this.#onWinder?.spool ?? null;
  }

  /** The spool that ended last in this run, without a spool change; null = none. */
  get endedSpool(): Spool | null {
    return this.#ended?.spool ?? null;
  }

  /** null = none, or a user has answered it. */
  get proposedChange(): ProposedSpoolChange | null {
    return this.#proposedChange;
  }

  /** A user stated that the spool was not changed. */
  dismissProposedChange(): void {
    this.#proposedChange = null;
  }

  /** The path by which positions on the spool are calculated, mm. */
  get gaugeToWinderMm(): number {
    return this.#onWinder?.pathMm ?? this.#options.gaugeToWinderMm;
  }

  setOptions(options: RunTrackerOptions): void {
    this.#options = options;
  }

  /** Takes over notes and other statements that were saved for the current run or spool. */
  refresh(run: Run | null, spool: Spool | null): void {
    if (run?.id === this.#run?.id) this.#run = run;
    if (this.#onWinder !== null && spool?.id === this.#onWinder.spool.id) this.#onWinder = { ...this.#onWinder, spool };
  }

  /** Runs and spools don't match the stage yet, because they could not be written or a delay has not passed. */
  isDue(stage: Stage): boolean {
    if (stage === 'stopped') return this.#run !== null;
    return this.#run === null || (stage === 'winding') !== (this.#onWinder !== null);
  }

  /** Resumes a run after a restart of the service. @param spools all spools of the run */
  resume(run: Run, spools: readonly Spool[]): void {
    const open = spools.find(({ endGaugeMm }) => endGaugeMm === null);
    this.#run = run;
    // What the turn counter did before the restart is unknown, so it cannot show where the spool started.
    const known = { pathMm: this.#options.gaugeToWinderMm, startKnown: true };
    const last = spools.at(-1);
    this.#onWinder = open ? { spool: open, ...known } : null;
    this.#ended = open === undefined && last !== undefined ? { spool: last, ...known } : null;
    this.#previousEndMm = Math.max(...spools.map(({ endGaugeMm }) => endGaugeMm ?? Number.NEGATIVE_INFINITY));
  }

  /** Ends a run that cannot be resumed, at its last reading. */
  closeUnfinished(run: Run, spool: Spool | null, last: LastSample | null): void {
    if (spool !== null) {
      const endMm = Math.max(spool.startGaugeMm, winderGaugeMm(last?.gaugeMm ?? 0, this.#options.gaugeToWinderMm));
      this.#writer.endSpool(spool.id, endMm, last?.timeMs ?? spool.startedMs);
    }
    this.#writer.endRun(run.id, last?.timeMs ?? run.startedMs);
  }

  /** @returns what was started or ended, as sentences for the operators' log */
  followStage(
    { stage, setByUser, sameStrand }: FollowedStage,
    at: LinePosition,
    source: { readonly title: string; readonly timeZone: string; readonly startMs: number },
  ): readonly string[] {
    const events: string[] = [];
    if (stage !== 'stopped') {
      this.#stoppedSinceMs = null;
      if (this.#run === null) {
        this.#run = this.#writer.beginRun({
          startedMs: source.startMs,
          timeZone: source.timeZone,
          sourceTitle: source.title,
        });
        this.#ended = null;
        this.#previousEndMm = Number.NEGATIVE_INFINITY;
        events.push('The run started.');
      }
    }
    if (stage === 'winding' && this.#onWinder === null && this.#run !== null) {
      events.push((sameStrand ? this.continueSpool() : null) ?? this.#startSpool(this.#run, at));
    }
    if (stage !== 'winding' && this.#onWinder !== null) events.push(this.#endSpool(this.#onWinder, at));
    if (stage === 'stopped' && this.#run !== null) {
      this.#stoppedSinceMs ??= at.timeMs;
      const endsAfterMs = setByUser ? this.#undoStopForMs : this.#options.stopAfterMin * 60_000;
      if (at.timeMs - this.#stoppedSinceMs >= endsAfterMs) events.push(this.#endRun(this.#run, at));
    }
    return events;
  }

  /** The full spool was replaced by an empty one without a stop. @returns sentences for the log; null = no spool is being wound */
  changeSpool(at: LinePosition): readonly string[] | null {
    if (this.#run === null || this.#onWinder === null) return null;
    const events = [this.#endSpool(this.#onWinder, at), this.#startSpool(this.#run, at)];
    this.#ended = null;
    return events;
  }

  /** @returns a sentence for the log; null = there is no run */
  endRun(at: LinePosition): string | null {
    return this.#run === null ? null : this.#endRun(this.#run, at);
  }

  /**
   * The strand goes on the spool that ended last in this run. A spool that started since was the same one.
   * @returns a sentence for the log; null = there is none, or one of them has been cut, named, used or measured
   */
  continueSpool(): string | null {
    const ended = this.#ended;
    if (ended === null) return null;
    const spool = this.#writer.reopenSpool(ended.spool.id);
    if (spool === null) return null;
    this.#onWinder = { ...ended, spool };
    this.#ended = null;
    this.#proposedChange = null;
    return `Spool ${spool.ordinal} continues.`;
  }

  #endRun(run: Run, at: LinePosition): string {
    if (this.#onWinder !== null) this.#endSpool(this.#onWinder, at);
    this.#writer.endRun(run.id, at.timeMs);
    this.#run = null;
    this.#stoppedSinceMs = null;
    return 'The run ended.';
  }

  /**
   * The winder's turns were recognised. If they are the first of this spool, it started where they did.
   * If they started again later, it was probably changed, which only a user can tell.
   * @returns a sentence for the log if the start was moved or a change is proposed, else null
   */
  useWindingStart(start: WindingStart | null): string | null {
    const onWinder = this.#onWinder;
    if (onWinder === null) return null;
    if (onWinder.startKnown) return start?.restarted ? this.#proposeChange(onWinder, start) : null;
    const { spool, pathMm } = onWinder;
    const startGaugeMm = start && this.#startFromTurns(start, pathMm);
    if (start === null || startGaugeMm === null) {
      this.#onWinder = { ...onWinder, startKnown: true };
      return null;
    }
    // If the disk refuses, the start stays unknown and is tried again.
    const moved = this.#writer.moveSpoolStart(spool.id, startGaugeMm, start.timeMs);
    this.#onWinder = { spool: moved, pathMm, startKnown: true };
    const laterM = (startGaugeMm - spool.startGaugeMm) / 1000;
    const shift = `${Math.abs(laterM).toFixed(2)} m ${laterM < 0 ? 'earlier' : 'later'}`;
    return `Moved the start of spool ${spool.ordinal} to where the winder's turns started: ${shift}.`;
  }

  /**
   * A user stated where a spool starts, which overrides the winder's turns. The spool may have ended.
   * @param previous the spool it was changed from without a stop, which then ends there; null = none
   */
  moveSpoolStart(spool: Spool, previous: Spool | null, startGaugeMm: number, startedMs: number): Spool {
    const moved =
      previous === null
        ? this.#writer.moveSpoolStart(spool.id, startGaugeMm, startedMs)
        : this.#writer.moveSpoolChange(previous.id, spool.id, startGaugeMm, startedMs);
    if (this.#onWinder?.spool.id === spool.id) {
      this.#onWinder = { ...this.#onWinder, spool: moved, startKnown: true };
      if (previous !== null) this.#previousEndMm = startGaugeMm;
    }
    if (this.#ended?.spool.id === spool.id) this.#ended = { ...this.#ended, spool: moved, startKnown: true };
    return moved;
  }

  /** A user stated later that the newest spool of a run was changed there. @returns the spool that started there */
  splitSpool(spool: Spool, atGaugeMm: number, atMs: number): Spool {
    const next = this.#writer.splitSpool(spool.id, atGaugeMm, atMs);
    this.#proposedChange = null;
    if (this.#onWinder?.spool.id === spool.id) {
      this.#onWinder = { ...this.#onWinder, spool: next, startKnown: true };
      this.#previousEndMm = atGaugeMm;
    }
    if (this.#ended?.spool.id === spool.id) this.#ended = { ...this.#ended, spool: next, startKnown: true };
    else this.#ended = null;
    return next;
  }

  #proposeChange({ spool, pathMm }: SpoolOnWinder, start: WindingStart): string | null {
    const atGaugeMm = spoolStartGaugeMm(start.gaugeMm, pathMm);
    if (atGaugeMm - spool.startGaugeMm < CHANGED_AFTER_MM) return null;
    this.#proposedChange = { spool, atGaugeMm };
    const at = ((atGaugeMm - spool.startGaugeMm) / 1000).toFixed(2);
    return `The winder's turns started again at 0 at ${at} m of spool ${spool.ordinal}.`;
  }

  /** null = impossible, because that strand is on the previous spool. */
  #startFromTurns(start: WindingStart, pathMm: number): number | null {
    const startGaugeMm = spoolStartGaugeMm(start.gaugeMm, pathMm);
    return startGaugeMm < this.#previousEndMm ? null : startGaugeMm;
  }

  #startSpool(run: Run, at: LinePosition): string {
    const pathMm = this.#options.gaugeToWinderMm;
    const start = at.windingStart;
    const startGaugeMm = start && this.#startFromTurns(start, pathMm);
    const spool = this.#writer.beginSpool({
      runId: run.id,
      startGaugeMm: startGaugeMm ?? spoolStartGaugeMm(at.gaugeMm, pathMm),
      startedMs: start === null || startGaugeMm === null ? at.timeMs : start.timeMs,
    });
    this.#onWinder = { spool, pathMm, startKnown: start !== null };
    return `Spool ${spool.ordinal} started.`;
  }

  #endSpool(onWinder: SpoolOnWinder, at: LinePosition): string {
    const { spool, pathMm } = onWinder;
    // A lost strand is wound to its end; an unbroken one is cut at the winder.
    const endMm = at.lostAtGaugeMm ?? winderGaugeMm(at.gaugeMm, pathMm);
    const endGaugeMm = Math.max(spool.startGaugeMm, endMm);
    this.#writer.endSpool(spool.id, endGaugeMm, at.timeMs);
    this.#onWinder = null;
    this.#proposedChange = null;
    this.#ended = { ...onWinder, spool: { ...spool, endGaugeMm, endedMs: at.timeMs } };
    this.#previousEndMm = endGaugeMm;
    return `Spool ${spool.ordinal} ended at ${((endGaugeMm - spool.startGaugeMm) / 1000).toFixed(2)} m.`;
  }
}
