import type { Run } from '../entities/run.ts';
import type { Spool } from '../entities/spool.ts';
import type { Stage } from '../stage/stage.ts';
import { spoolStartGaugeMm, winderGaugeMm, woundMm } from '../strand/position.ts';
import type { WindingBegin } from '../strand/winder-turns.ts';
import type { RecordWriter } from './ports/record.ts';
import type { LastSample } from './ports/samples.ts';

export interface RunTrackerOptions {
  readonly stopAfterMin: number;
  readonly gaugeToWinderMm: number;
}

/** Where the line is when something about runs and spools must be decided. */
export interface Whereabouts {
  readonly timeMs: number;
  readonly gaugeMm: number;
  /** Where the strand ended at the gauge, if it was lost; null = the strand is whole. */
  readonly lostAtGaugeMm: number | null;
  /** Where the winder was just found to have taken up strand; null = it was not. */
  readonly windingBegan: WindingBegin | null;
}

/**
 * Opens and closes runs and spools as the stage changes.
 *
 * A run begins when the stage leaves `stopped` and ends when a person says "stopped" or the line has been stopped for a
 * set time. A spool begins with winding. What lies at the winder when winding begins passed the gauge one path length
 * ago, so by conservation of length the spool's innermost strand has gauge length L0 − path. When winding began is the
 * stage's guess until the winder's turns tell.
 */
export class RunTracker {
  readonly #writer: RecordWriter;
  #options: RunTrackerOptions;
  #run: Run | null = null;
  #spool: Spool | null = null;
  #spools = 0;
  #stoppedSinceMs: number | null = null;
  /** The path as it was when the spool began: a new measure of it counts from the next spool on. */
  #pathMm: number;
  /** The winder has been seen to turn since the spool began: if it stands and turns again, that is no new beginning. */
  #turned = false;
  /** Where the spool before this one ended: what lies on that cannot lie on this. */
  #freeFromMm = Number.NEGATIVE_INFINITY;

  constructor(writer: RecordWriter, options: RunTrackerOptions) {
    this.#writer = writer;
    this.#options = options;
    this.#pathMm = options.gaugeToWinderMm;
  }

  get run(): Run | null {
    return this.#run;
  }

  get spool(): Spool | null {
    return this.#spool;
  }

  /** Path from gauge to winder that the positions on the spool are told by, mm. */
  get gaugeToWinderMm(): number {
    return this.#spool === null ? this.#options.gaugeToWinderMm : this.#pathMm;
  }

  setOptions(options: RunTrackerOptions): void {
    this.#options = options;
  }

  /** Somebody said something about them. */
  refresh(run: Run | null, spool: Spool | null): void {
    if (run?.id === this.#run?.id) this.#run = run;
    if (spool?.id === this.#spool?.id) this.#spool = spool;
  }

  /** Runs and spools are not as the stage asks: begun or ended late, or not yet written. */
  isDue(stage: Stage): boolean {
    if (stage === 'stopped') return this.#run !== null;
    return this.#run === null || (stage === 'winding') !== (this.#spool !== null);
  }

  /** Go on with a run that the service was stopped in; `spools`: all of it so far. */
  resume(run: Run, spools: readonly Spool[]): void {
    this.#run = run;
    this.#spool = spools.find(({ endGaugeMm }) => endGaugeMm === null) ?? null;
    this.#spools = spools.length;
    this.#freeFromMm = Math.max(...spools.map(({ endGaugeMm }) => endGaugeMm ?? Number.NEGATIVE_INFINITY));
    // What its counter did before is not known any more.
    this.#turned = true;
  }

  /** End a run that cannot go on: it ended with its last reading. */
  closeUnfinished(run: Run, spool: Spool | null, last: LastSample | null): void {
    if (spool !== null) {
      const endMm = Math.max(spool.startGaugeMm, winderGaugeMm(last?.gaugeMm ?? 0, this.#options.gaugeToWinderMm));
      this.#writer.endSpool(spool.id, endMm, last?.timeMs ?? spool.startedMs);
    }
    this.#writer.endRun(run.id, last?.timeMs ?? run.startedMs);
  }

  /** Returns what was begun or ended, in plain words, for the log. */
  stageIs(
    stage: Stage,
    setByUser: boolean,
    at: Whereabouts,
    source: { readonly title: string; readonly timeZone: string },
  ): readonly string[] {
    const done: string[] = [];
    if (stage !== 'stopped') {
      this.#stoppedSinceMs = null;
      if (this.#run === null) {
        this.#run = this.#writer.beginRun({
          startedMs: at.timeMs,
          timeZone: source.timeZone,
          sourceTitle: source.title,
        });
        this.#spools = 0;
        this.#freeFromMm = Number.NEGATIVE_INFINITY;
        done.push(`Run ${this.#run.id} began.`);
      }
    }
    if (stage === 'winding' && this.#spool === null && this.#run !== null) {
      done.push(this.#beginSpool(this.#run, at));
    }
    if (stage !== 'winding' && this.#spool !== null) done.push(this.#endSpool(this.#spool, at));
    if (stage === 'stopped' && this.#run !== null) {
      this.#stoppedSinceMs ??= at.timeMs;
      const longEnough = at.timeMs - this.#stoppedSinceMs >= this.#options.stopAfterMin * 60_000;
      if (setByUser || longEnough) done.push(this.endRun(at));
    }
    return done;
  }

  /** The full spool was taken off and an empty one put on, without a stop. Null = no spool is being wound. */
  changeSpool(at: Whereabouts): readonly string[] | null {
    if (this.#run === null || this.#spool === null) return null;
    const ended = this.#endSpool(this.#spool, at);
    return [ended, this.#beginSpool(this.#run, at)];
  }

  endRun(at: Whereabouts): string {
    const run = this.#run;
    if (run === null) return '';
    if (this.#spool !== null) this.#endSpool(this.#spool, at);
    this.#writer.endRun(run.id, at.timeMs);
    this.#run = null;
    this.#stoppedSinceMs = null;
    return `Run ${run.id} ended.`;
  }

  /**
   * The winder was found to count turns. The spool that is being wound began where they did, if this is the first that
   * is heard of them. @returns what was put right, in plain words; null = nothing
   */
  winds(began: WindingBegin | null): string | null {
    const spool = this.#spool;
    if (spool === null || this.#turned) return null;
    const startGaugeMm = began && this.#startOf(began, this.#pathMm);
    if (began === null || startGaugeMm === null) {
      this.#turned = true;
      return null;
    }
    this.#spool = this.#writer.moveSpoolStart(spool.id, startGaugeMm, began.timeMs);
    // Where the disk refuses, it is asked again.
    this.#turned = true;
    const laterM = (startGaugeMm - spool.startGaugeMm) / 1000;
    return `By the winder's turns spool ${spool.ordinal} began ${Math.abs(laterM).toFixed(2)} m ${laterM < 0 ? 'earlier' : 'later'}.`;
  }

  /**
   * A person said where a spool begins, whether it is still being wound or not. What the winder's turns say later counts
   * no more.
   * @param before the spool that it was changed from without a stop: that ends there; null = none
   */
  spoolBegins(spool: Spool, before: Spool | null, startGaugeMm: number, startedMs: number): Spool {
    const moved =
      before === null
        ? this.#writer.moveSpoolStart(spool.id, startGaugeMm, startedMs)
        : this.#writer.moveSpoolChange(before.id, spool.id, startGaugeMm, startedMs);
    if (this.#spool?.id === spool.id) {
      this.#spool = moved;
      this.#turned = true;
      if (before !== null) this.#freeFromMm = startGaugeMm;
    }
    return moved;
  }

  /** A person said that the newest spool of a run was changed there, and nobody had said so then. @returns the one that began there */
  spoolWasChanged(spool: Spool, atGaugeMm: number, atMs: number): Spool {
    const begun = this.#writer.splitSpool(spool.id, atGaugeMm, atMs);
    if (this.#run?.id === spool.runId) this.#spools = begun.ordinal;
    if (this.#spool?.id === spool.id) {
      this.#spool = begun;
      this.#turned = true;
      this.#freeFromMm = atGaugeMm;
    }
    return begun;
  }

  /** null = it cannot be: that strand is on the spool before. */
  #startOf(began: WindingBegin, pathMm: number): number | null {
    const startGaugeMm = spoolStartGaugeMm(began.gaugeMm, pathMm);
    return startGaugeMm < this.#freeFromMm ? null : startGaugeMm;
  }

  /** Length on the spool now. */
  woundMm(gaugeMm: number): number {
    return this.#spool === null ? 0 : woundMm(gaugeMm, this.#pathMm, this.#spool.startGaugeMm);
  }

  #beginSpool(run: Run, at: Whereabouts): string {
    const ordinal = this.#spools + 1;
    const path = this.#options.gaugeToWinderMm;
    const began = at.windingBegan;
    const startGaugeMm = began && this.#startOf(began, path);
    this.#spool = this.#writer.beginSpool({
      runId: run.id,
      ordinal,
      startGaugeMm: startGaugeMm ?? spoolStartGaugeMm(at.gaugeMm, path),
      startedMs: began === null || startGaugeMm === null ? at.timeMs : began.timeMs,
    });
    this.#spools = ordinal;
    this.#pathMm = path;
    this.#turned = began !== null;
    return `Spool ${ordinal} began.`;
  }

  #endSpool(spool: Spool, at: Whereabouts): string {
    // A lost strand is wound to its end; a whole one is cut at the winder.
    const endMm = at.lostAtGaugeMm ?? winderGaugeMm(at.gaugeMm, this.#pathMm);
    const endGaugeMm = Math.max(spool.startGaugeMm, endMm);
    this.#writer.endSpool(spool.id, endGaugeMm, at.timeMs);
    this.#spool = null;
    this.#freeFromMm = endGaugeMm;
    return `Spool ${spool.ordinal} ended at ${((endGaugeMm - spool.startGaugeMm) / 1000).toFixed(2)} m.`;
  }
}
