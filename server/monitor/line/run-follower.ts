import type { Run } from '../../entities/run.ts';
import type { Spool } from '../../entities/spool.ts';
import type { Reading } from '../../reading/reading.ts';
import type { Stage } from '../../stage/stage.ts';
import type { StageState } from '../../stage/stage-tracker.ts';
import { asCounted, spoolPositionMm, winderGaugeMm } from '../../strand/position.ts';
import type { MeasuredSection } from '../../strand/section.ts';
import type { AlarmService } from '../alarm-service.ts';
import type { MonotonicClock } from '../clock.ts';
import type { RecordReader, RecordWriter } from '../ports/record.ts';
import type { LastSample, SampleWriter } from '../ports/samples.ts';
import type { RecordGuard } from '../record-guard.ts';
import { currentRunSettings, sameRunSettings } from '../run/run-settings.ts';
import { type LinePosition, RunTracker } from '../run/run-tracker.ts';
import { createSectionRecorder, type SectionRecorder } from '../run/section-recorder.ts';
import type { Connection } from './connection.ts';
import type { LineLog } from './line-log.ts';
import { createLineTracker, type LineTracker } from './line-tracker.ts';
import type { Listeners } from './listeners.ts';
import type { SettingsInForce } from './settings-in-force.ts';
import { type EarlyReading, StrandBeforeRun } from './strand-before-run.ts';
import type { ZoneModels } from './zone-models.ts';

export interface RunFollowerParts {
  readonly clock: MonotonicClock;
  readonly writer: RecordWriter;
  readonly reader: RecordReader;
  readonly samples: SampleWriter;
  readonly guard: RecordGuard;
  readonly timeZone: string;
  readonly settings: SettingsInForce;
  readonly connection: Connection;
  readonly zones: ZoneModels;
  readonly alarms: AlarmService;
  readonly log: LineLog;
  readonly listeners: Listeners;
  readonly undoStopForMs?: number;
}

/** How long to wait before a refused write is tried again. */
const RETRY_AFTER_MS = 1000;

export function createRunFollower(parts: RunFollowerParts): RunFollower {
  const { writer, reader, settings } = parts;
  const runTracker = new RunTracker(writer, settings.line, parts.undoStopForMs ?? 0);
  const sections = createSectionRecorder(writer, reader, settings.strandLimits);
  return new RunFollower(parts, { runTracker, sections, lineTracker: newLineTracker(parts) });
}

function newLineTracker({ settings, clock, zones }: RunFollowerParts): LineTracker {
  return createLineTracker(settings.line, clock.nowMs(), zones.models);
}

/** Follows the line from reading to reading: its stage, and the run, spool and sections that depend on the stage. */
export class RunFollower {
  readonly #parts: RunFollowerParts;
  readonly #runTracker: RunTracker;
  readonly #sections: SectionRecorder;
  #lineTracker: LineTracker;
  #stage: StageState;
  readonly #beforeRun = new StrandBeforeRun();
  #runsTriedMs = 0;
  /** Time of the last reading of a resumed run, as long as it has no others; null = none was resumed. */
  #lastBeforeRestartMs: number | null = null;
  #windingStartFailedMs = Number.NEGATIVE_INFINITY;

  constructor(
    parts: RunFollowerParts,
    {
      runTracker,
      sections,
      lineTracker,
    }: { runTracker: RunTracker; sections: SectionRecorder; lineTracker: LineTracker },
  ) {
    this.#parts = parts;
    this.#runTracker = runTracker;
    this.#sections = sections;
    this.#lineTracker = lineTracker;
    this.#stage = lineTracker.stage;
  }

  get runTracker(): RunTracker {
    return this.#runTracker;
  }

  get sections(): SectionRecorder {
    return this.#sections;
  }

  /** Replaced by each `startOver`. */
  get lineTracker(): LineTracker {
    return this.#lineTracker;
  }

  get stage(): StageState {
    return this.#stage;
  }

  /** UTC ms; in a replay the time of the readings. */
  nowMs(): number {
    const { lastTimeMs } = this.#lineTracker;
    const { connection, clock } = this.#parts;
    return connection.link.timing === 'recorded' && lastTimeMs !== null ? lastTimeMs : clock.nowMs();
  }

  /** How long a diameter has been missing while strand is being made. */
  get noDiameterForS(): number {
    return this.#makesStrand ? this.#lineTracker.noDiameterForS : 0;
  }

  get position(): LinePosition {
    return this.#positionAt(this.nowMs());
  }

  /** Gauge length of the strand at the winder. */
  get winderMm(): number {
    return winderGaugeMm(this.#lineTracker.gaugeMm, this.#runTracker.gaugeToWinderMm);
  }

  /** Position as counted on a spool of the current run. */
  spoolPositionMm(spool: Spool, gaugeMm: number): number {
    return spoolPositionMm(gaugeMm, asCounted(spool, this.#sections.cutOuts));
  }

  /** Length on the spool being wound, as counted; null = none is. */
  get woundMm(): number | null {
    const { spool } = this.#runTracker;
    return spool === null ? null : Math.max(0, this.spoolPositionMm(spool, this.winderMm));
  }

  /** Sections that have not reached the winder in full; where places are unknown, only those at the gauge. */
  underway(): readonly MeasuredSection[] {
    return this.#sections.underway(this.#lineTracker.travelIsKnown ? this.winderMm : Number.POSITIVE_INFINITY);
  }

  // ---- one reading ----

  /** Updates the trackers; runs and spools follow where the stage or the winder requires it. */
  step(reading: Reading): void {
    const { timeMs } = reading;
    const lineTracker = this.#lineTracker;
    lineTracker.step(reading);
    const due = this.#runTracker.isDue(lineTracker.stage.stage) && timeMs - this.#runsTriedMs >= RETRY_AFTER_MS;
    if (lineTracker.stage !== this.#stage || due) this.#followStage(timeMs);
    if (this.#runTracker.run === null) this.#keepForRun(reading);
    if (lineTracker.isWinding && timeMs - this.#windingStartFailedMs >= RETRY_AFTER_MS) this.#useWindingStart(timeMs);
  }

  #keepForRun(reading: Reading): void {
    const { strandIsMoving, countedMm, diameterMm, sampleContext } = this.#lineTracker;
    if (strandIsMoving) this.#beforeRun.add({ reading, countedMm, diameterMm, context: { ...sampleContext } });
    else this.#beforeRun.clear();
  }

  /** Stores the reading with its run and looks for sections. @returns whether a section was opened, closed or reclassified */
  record(reading: Reading): boolean {
    const { run } = this.#runTracker;
    if (run === null) return false;
    const { timeMs } = reading;
    const lineTracker = this.#lineTracker;
    this.#append(run.id, reading, lineTracker.gaugeMm);
    // Strand that moves again after a stop may go on a spool, whatever the stage still is.
    if (!this.#makesStrand && !lineTracker.strandIsMoving) return this.#sections.pause(timeMs);
    return this.#sections.step(timeMs, lineTracker.gaugeMm, lineTracker.diameterMm, lineTracker.sampleContext);
  }

  get #makesStrand(): boolean {
    const { stage } = this.#stage;
    return stage === 'winding' || stage === 'purging';
  }

  #append(runId: number, reading: Reading, gaugeMm: number): void {
    // Not through the guard's `attempt`, which would allocate a closure for each reading.
    try {
      this.#parts.samples.append(runId, reading, gaugeMm);
    } catch (thrown) {
      this.#parts.guard.failed('readings', thrown);
    }
  }

  // ---- stage, run and spool ----

  /** Sets the stage as stated by a user; null = follow the line's signs again. */
  setStage(stage: Stage | null, timeMs: number): void {
    this.#lineTracker.setStage(stage, timeMs);
    this.#followStage(timeMs);
  }

  /**
   * The strand goes on the spool that ended last in this run, as stated by a user.
   * @returns a sentence for the log; null = it cannot continue
   */
  continueSpool(timeMs: number): string | null {
    const ended = this.#runTracker.endedSpool;
    const continued = this.#runTracker.continueSpool();
    if (ended === null || continued === null) return null;
    this.#sections.continueSpool(ended.endGaugeMm ?? 0);
    this.#lineTracker.continueWinding(timeMs);
    this.#followStage(timeMs);
    return continued;
  }

  #followStage(timeMs: number): void {
    const { guard, alarms, connection, timeZone, log, listeners } = this.#parts;
    const before = this.#stage;
    const next = this.#lineTracker.stage;
    this.#stage = next;
    this.#runsTriedMs = timeMs;
    const { run: runBefore, spool: spoolBefore, endedSpool } = this.#runTracker;
    const early = runBefore === null && next.stage !== 'stopped' ? this.#beforeRun.recent(timeMs) : [];
    const startMm = early[0]?.countedMm ?? this.#lineTracker.countedMm;
    // Reset before the run starts, because its first spool may start with it.
    if (runBefore === null && next.stage !== 'stopped') {
      this.#lineTracker.resetLength(startMm);
      alarms.runStarts(timeMs);
    }
    const written = guard.attempt('runs', () => {
      const startMs = early[0]?.reading.timeMs ?? timeMs;
      const source = { title: connection.link.title, timeZone, startMs };
      const position = this.#positionAt(timeMs);
      const events = this.#runTracker.followStage(next, position, source);
      const runId = this.#runTracker.run?.id ?? runBefore?.id ?? null;
      for (const what of events) log.write('service', what, runId);
      if (next.soakSkipped !== null && before.soakSkipped === null) log.write('service', next.soakSkipped, runId);
    });
    const { run, spool } = this.#runTracker;
    if (run !== null) this.#beforeRun.clear();
    else if (!written) this.#beforeRun.refused();
    if (run !== null && run !== runBefore) {
      this.#sections.startRun(run.id);
      alarms.runStarted(run.id);
      this.saveRunSettings();
      this.#addEarly(run.id, early, startMm);
    }
    if (spool !== null && spoolBefore === null && spool.id === endedSpool?.id)
      this.#sections.continueSpool(endedSpool.endGaugeMm ?? 0);
    else if (spool !== null && spool !== spoolBefore) this.startSpoolSections();
    if (spool === null && spoolBefore !== null) this.#sections.endSpool();
    if (run === null && runBefore !== null) this.#runEnded(timeMs);
    if (before.stage !== next.stage) listeners.changed();
  }

  /** The run starts with the first strand, not with the moment at which the line is recognised as making some. */
  #addEarly(runId: number, early: readonly EarlyReading[], startMm: number): void {
    for (const { reading, countedMm, diameterMm, context } of early) {
      const gaugeMm = countedMm - startMm;
      this.#append(runId, reading, gaugeMm);
      this.#sections.step(reading.timeMs, gaugeMm, diameterMm, { ...context, frozenSinceMm: Number.NaN });
    }
  }

  /** A spool whose start was estimated starts where the winder's turns did. */
  #useWindingStart(timeMs: number): void {
    const written = this.#parts.guard.attempt('runs', () => {
      const { spool } = this.#runTracker;
      const found = this.#runTracker.useWindingStart(this.#lineTracker.windingStart);
      if (found === null) return;
      if (this.#runTracker.spool !== spool) this.startSpoolSections();
      this.#parts.log.write('service', found);
      this.#parts.listeners.changed();
    });
    if (!written) this.#windingStartFailedMs = timeMs;
  }

  /** Call after the run tracker has started a spool or moved the start of the one being wound. */
  startSpoolSections(): void {
    this.#sections.startSpool(this.#runTracker.spool?.startGaugeMm ?? 0, this.#lineTracker.gaugeMm);
  }

  /** Ends a run that a user has stopped once this can no longer be undone, although no further reading arrives. */
  endStoppedRun(): void {
    const { stage, setByUser } = this.#stage;
    if (stage === 'stopped' && setByUser && this.#runTracker.run !== null) this.#followStage(this.nowMs());
  }

  /** Ends the run at its last reading. */
  endRun(): void {
    const { run } = this.#runTracker;
    if (run === null) return;
    const timeMs = this.#lineTracker.lastTimeMs ?? this.#lastBeforeRestartMs ?? this.nowMs();
    const { guard, log } = this.#parts;
    guard.attempt('runs', () => {
      const ended = this.#runTracker.endRun(this.#positionAt(timeMs));
      if (ended !== null) log.write('service', ended, run.id);
    });
    this.#runEnded(timeMs);
  }

  #runEnded(timeMs: number): void {
    this.#lastBeforeRestartMs = null;
    const { guard, samples, alarms } = this.#parts;
    guard.attempt('sections', () => this.#sections.endRun(timeMs));
    guard.attempt('readings', () => samples.flush());
    alarms.runEnded(timeMs);
  }

  /** Forgets everything about the strand before now. */
  startOver(): void {
    this.#lineTracker = newLineTracker(this.#parts);
    this.#stage = this.#lineTracker.stage;
    this.#parts.listeners.changed();
  }

  /** Resumes a run after a restart of the service. @param stage the stage when the service stopped */
  resume(
    run: Run,
    stage: { readonly stage: Stage; readonly setByUser: boolean },
    last: LastSample,
    lastReported: number,
  ): void {
    this.#lastBeforeRestartMs = last.timeMs;
    this.#runTracker.resume(run, this.#parts.reader.spools(run.id));
    this.#lineTracker.resume(stage.stage, stage.setByUser, last);
    this.#stage = this.#lineTracker.stage;
    const { gaugeToWinderMm, spool } = this.#runTracker;
    this.#sections.resumeRun(run.id, {
      gaugeMm: last.gaugeMm,
      winderGaugeMm: winderGaugeMm(last.gaugeMm, gaugeToWinderMm),
      winding: spool !== null,
      lastReported,
    });
  }

  /** Stores the settings by which the run is judged from here on, so that they are known after later changes. */
  saveRunSettings(): void {
    const { run } = this.#runTracker;
    if (run === null) return;
    const { writer, reader, guard, settings } = this.#parts;
    const { line } = settings;
    const { gaugeMm } = this.#lineTracker;
    guard.write('the settings of the run', () => {
      const before = reader.runSettings(run.id).at(-1);
      const now = currentRunSettings(line, before === undefined ? 0 : gaugeMm);
      if (before === undefined || !sameRunSettings(before, now)) writer.addRunSettings(run.id, now);
    });
  }

  #positionAt(timeMs: number): LinePosition {
    const { gaugeMm, windingStart } = this.#lineTracker;
    return { timeMs, gaugeMm, lostAtGaugeMm: this.#sections.lostAtGaugeMm(), windingStart };
  }
}
