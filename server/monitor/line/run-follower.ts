import type { Run } from '../../entities/run.ts';
import type { Reading } from '../../reading/reading.ts';
import type { Stage } from '../../stage/stage.ts';
import type { StageState } from '../../stage/stage-tracker.ts';
import { winderGaugeMm } from '../../strand/position.ts';
import type { MeasuredSection } from '../../strand/section.ts';
import type { AlarmService } from '../alarm-service.ts';
import { LineTrackers } from '../line-trackers.ts';
import type { RecordReader, RecordWriter } from '../ports/record.ts';
import type { LastSample, SampleWriter } from '../ports/samples.ts';
import type { RecordGuard } from '../record-guard.ts';
import { runSettingsNow, sameRunSettings } from '../run-settings.ts';
import { RunTracker, type Whereabouts } from '../run-tracker.ts';
import { SectionRecorder } from '../section-recorder.ts';
import type { SteadyClock } from '../steady-clock.ts';
import type { Connection } from './connection.ts';
import type { LineLog } from './line-log.ts';
import type { Listeners } from './listeners.ts';
import type { SettingsInForce } from './settings-in-force.ts';
import type { ZoneMemory } from './zone-memory.ts';

export interface RunFollowerParts {
  readonly clock: SteadyClock;
  readonly writer: RecordWriter;
  readonly reader: RecordReader;
  readonly samples: SampleWriter;
  readonly guard: RecordGuard;
  readonly timeZone: string;
  readonly settings: SettingsInForce;
  readonly connection: Connection;
  readonly zones: ZoneMemory;
  readonly alarms: AlarmService;
  readonly log: LineLog;
  readonly listeners: Listeners;
}

/** Where the record refused, it is asked again after this time. */
const TRY_AGAIN_MS = 1000;

/** Follows the line from reading to reading: its stage, and the run, spool and sections that the stage opens and closes. */
export class RunFollower {
  readonly #parts: RunFollowerParts;
  readonly #runs: RunTracker;
  readonly #sections: SectionRecorder;
  #trackers: LineTrackers;
  #stage: StageState;
  #runsTriedMs = 0;
  #windingRefusedMs = Number.NEGATIVE_INFINITY;

  constructor(parts: RunFollowerParts) {
    const { writer, reader, settings } = parts;
    this.#parts = parts;
    this.#runs = new RunTracker(writer, settings.line);
    this.#sections = new SectionRecorder(writer, reader, settings.strandLimits);
    this.#trackers = this.#newTrackers();
    this.#stage = this.#trackers.stage;
  }

  get runs(): RunTracker {
    return this.#runs;
  }

  get sections(): SectionRecorder {
    return this.#sections;
  }

  /** Others after each `beginAnew`. */
  get trackers(): LineTrackers {
    return this.#trackers;
  }

  get stage(): StageState {
    return this.#stage;
  }

  /** UTC ms; in a replay the time of the readings. */
  nowMs(): number {
    const { lastTimeMs } = this.#trackers;
    const { connection, clock } = this.#parts;
    return connection.link.timing === 'recorded' && lastTimeMs !== null ? lastTimeMs : clock.nowMs();
  }

  /** While strand is made there must be a diameter: how long there has been none, s. */
  get noDiameterForS(): number {
    return this.#makesStrand ? this.#trackers.noDiameterForS : 0;
  }

  get whereabouts(): Whereabouts {
    return this.#whereabouts(this.nowMs());
  }

  /** Sections that have not reached the winder in full. */
  underway(): readonly MeasuredSection[] {
    return this.#sections.underway(winderGaugeMm(this.#trackers.gaugeMm, this.#runs.gaugeToWinderMm));
  }

  // ---- one reading ----

  /** The rooms take the reading; runs and spools follow where the stage or the winder asks for it. */
  step(reading: Reading): void {
    const { timeMs } = reading;
    const trackers = this.#trackers;
    trackers.step(reading);
    const due = this.#runs.isDue(trackers.stage.stage) && timeMs - this.#runsTriedMs >= TRY_AGAIN_MS;
    if (trackers.stage !== this.#stage || due) this.#stageIs(timeMs);
    if (trackers.winds && timeMs - this.#windingRefusedMs >= TRY_AGAIN_MS) this.#winds(timeMs);
  }

  /** Stores the reading with its run, and looks for sections. True = a section was opened, closed or has another meaning. */
  keep(reading: Reading): boolean {
    const { run } = this.#runs;
    if (run === null) return false;
    const { timeMs } = reading;
    const trackers = this.#trackers;
    this.#append(run.id, reading, trackers.gaugeMm);
    if (!this.#makesStrand) return this.#sections.pause(timeMs);
    return this.#sections.step(timeMs, trackers.gaugeMm, trackers.diameterMm, trackers.sampleContext);
  }

  get #makesStrand(): boolean {
    const { stage } = this.#stage;
    return stage === 'winding' || stage === 'purging';
  }

  #append(runId: number, reading: Reading, gaugeMm: number): void {
    // Not through the guard's `attempt`: a closure for each reading would be garbage for each reading.
    try {
      this.#parts.samples.append(runId, reading, gaugeMm);
    } catch (thrown) {
      this.#parts.guard.failed('readings', thrown);
    }
  }

  // ---- stage, run and spool ----

  /** The stage as stated by a person; null = the line tells its own stage again. */
  person(stage: Stage | null, timeMs: number): void {
    this.#trackers.person(stage, timeMs);
    this.#stageIs(timeMs);
  }

  #stageIs(timeMs: number): void {
    const { guard, alarms, connection, timeZone, log, listeners } = this.#parts;
    const before = this.#stage;
    const next = this.#trackers.stage;
    this.#stage = next;
    this.#runsTriedMs = timeMs;
    const { run: hadRun, spool: hadSpool } = this.#runs;
    // Before the run begins, because its first spool may begin with it.
    if (hadRun === null && next.stage !== 'stopped') {
      this.#trackers.countFromZero();
      alarms.runBegins(timeMs);
    }
    guard.attempt('runs', () => {
      const source = { title: connection.link.title, timeZone };
      const done = this.#runs.stageIs(next.stage, next.setByUser, this.#whereabouts(timeMs), source);
      const runId = this.#runs.run?.id ?? hadRun?.id ?? null;
      for (const what of done) log.write('service', what, runId);
    });
    const { run, spool } = this.#runs;
    if (run !== null && run !== hadRun) {
      this.#sections.runBegan(run.id);
      this.keepRunSettings();
    }
    if (spool !== null && spool !== hadSpool) this.spoolBegan();
    if (spool === null && hadSpool !== null) this.#sections.spoolEnded();
    if (run === null && hadRun !== null) this.#runEnded(timeMs);
    if (before.stage !== next.stage) listeners.changed();
  }

  /** The winder counts turns: a spool whose start was guessed started where they did. */
  #winds(timeMs: number): void {
    const written = this.#parts.guard.attempt('runs', () => {
      const done = this.#runs.winds(this.#trackers.windingBegan);
      if (done === null) return;
      this.spoolBegan();
      this.#parts.log.write('service', done);
      this.#parts.listeners.changed();
    });
    if (!written) this.#windingRefusedMs = timeMs;
  }

  /** The run book has begun a spool, or moved the start of the one being wound. */
  spoolBegan(): void {
    this.#sections.spoolBegan(this.#runs.spool?.startGaugeMm ?? 0, this.#trackers.gaugeMm);
  }

  /** Ends the run with its last reading. */
  endRun(): void {
    const { run } = this.#runs;
    if (run === null) return;
    const timeMs = this.#trackers.lastTimeMs ?? this.nowMs();
    const { guard, log } = this.#parts;
    guard.attempt('runs', () => log.write('service', this.#runs.endRun(this.#whereabouts(timeMs)), run.id));
    this.#runEnded(timeMs);
  }

  #runEnded(timeMs: number): void {
    const { guard, samples, alarms } = this.#parts;
    guard.attempt('sections', () => this.#sections.runEnded(timeMs));
    guard.attempt('readings', () => samples.flush());
    alarms.runEnded(timeMs);
  }

  /** Nothing of the strand before counts any more. */
  beginAnew(): void {
    this.#trackers = this.#newTrackers();
    this.#stage = this.#trackers.stage;
    this.#parts.listeners.changed();
  }

  /** Goes on with a run in which the service was stopped. `stage`: as it was then. */
  resume(run: Run, stage: { readonly stage: Stage; readonly setByUser: boolean }, last: LastSample): void {
    this.#runs.resume(run, this.#parts.reader.spools(run.id));
    this.#trackers.resume(stage.stage, stage.setByUser, last);
    this.#stage = this.#trackers.stage;
    const winderMm = winderGaugeMm(last.gaugeMm, this.#runs.gaugeToWinderMm);
    this.#sections.resume(run.id, last.gaugeMm, winderMm, this.#runs.spool !== null);
  }

  /** Keeps what the run is judged by from here on, so that it is still known after the settings have changed. */
  keepRunSettings(): void {
    const { run } = this.#runs;
    if (run === null) return;
    const { writer, reader, guard, settings } = this.#parts;
    const before = reader.runSettings(run.id).at(-1);
    const now = runSettingsNow(settings.line, before === undefined ? 0 : this.#trackers.gaugeMm);
    if (before !== undefined && sameRunSettings(before, now)) return;
    guard.write('settings of the run', () => writer.addRunSettings(run.id, now));
  }

  #newTrackers(): LineTrackers {
    const { settings, clock, zones } = this.#parts;
    return new LineTrackers(settings.line, clock.nowMs(), zones.models);
  }

  #whereabouts(timeMs: number): Whereabouts {
    const { gaugeMm, windingBegan } = this.#trackers;
    return { timeMs, gaugeMm, lostAtGaugeMm: this.#sections.lostAtGaugeMm(), windingBegan };
  }
}
