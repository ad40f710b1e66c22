import type { Alarm, AlarmChange, AlarmType } from '../../alarm/alarm.ts';
import type { MovedTimes } from '../../alarm/moved-alarm-times.ts';
import type { Binned, BinnedKind } from '../../entities/bin.ts';
import type { Lot, NewRun, Run, RunSettings } from '../../entities/run.ts';
import type { NewSpool, Spool } from '../../entities/spool.ts';
import type { ThermalModel } from '../../heat/thermal-model.ts';
import type { SavedSettings } from '../../settings/check-line-settings.ts';
import type { Stage } from '../../stage/stage.ts';
import type { MeasuredSection, StatedSection } from '../../strand/section.ts';
import type { PrintAmount } from '../../strand/verdict/print-fit.ts';
import type { LastSample } from './samples.ts';

/** An action of a user, or an event in the service itself (`who` = 'service'). */
export interface LogEntry {
  readonly id: number;
  readonly timeMs: number;
  readonly runId: number | null;
  readonly who: string;
  /** A plain sentence: "Acknowledged “Blob”.", "Started spool 2." */
  readonly what: string;
}

/** Whether the date of a run is wrong, and how it was corrected. */
export interface RunDate {
  /** How far the clock of the machine was ahead of the time that the run kept; null = they agreed. */
  readonly clockAheadMs: number | null;
  /** By how much it was moved; 0 = not at all. */
  readonly movedByMs: number;
  readonly canBeMovedBack: boolean;
  /** A user decided which date counts. */
  readonly isSettled: boolean;
  /** Its alarms are still being moved. */
  readonly isMoving: boolean;
}

/** A recorded section of which only number and place can be read, in gauge lengths; infinite = it may be anywhere. */
export type UnreadableSection = Pick<MeasuredSection, 'ordinal' | 'fromMm' | 'toMm'>;

/** A run that has not ended, because the service was stopped during it. */
export interface UnfinishedRun {
  readonly run: Run;
  readonly spool: Spool | null;
  readonly last: LastSample | null;
  /** The stage stated by a user; null = it was determined automatically. */
  readonly statedStage: Stage | null;
}

/** Writes runs and statements of users. Each call is durable when it returns, or throws. */
export interface RecordWriter {
  beginRun(run: NewRun): Run;
  endRun(runId: number, endedMs: number): void;
  /** The newest one; null = none. */
  unfinishedRun(): UnfinishedRun | null;
  /** The stage stated by a user during a run; null = automatic again. */
  saveStatedStage(runId: number, stage: Stage | null): void;
  setRunNote(runId: number, note: string): void;
  setRunTitle(runId: number, title: string): void;
  setRunTest(runId: number, isTest: boolean): void;
  /** States the lot; earlier statements stay in the record. null = none. */
  setLot(runId: number, lot: Lot | null, atMs: number, who: string): void;
  /** States the lots of several runs, each with its entry in the log: all or none. */
  setLots(
    lots: readonly { readonly runId: number; readonly lot: Lot | null; readonly what: string }[],
    atMs: number,
    who: string,
  ): void;
  addRunSettings(runId: number, settings: RunSettings): void;
  /** Assigns the next number of the run. */
  beginSpool(spool: NewSpool): Spool;
  /** Corrects where a spool starts. */
  moveSpoolStart(spoolId: number, startGaugeMm: number, startedMs: number): Spool;
  endSpool(spoolId: number, endGaugeMm: number, endedMs: number): void;
  /**
   * Continues a spool that had ended. If the next one has started since, its strand and note are added and it is removed.
   * @returns null = it cannot continue, because one of them has been cut, named, used or measured, or more spools follow
   */
  reopenSpool(spoolId: number): Spool | null;
  /** Corrects where a spool was changed without a stop: the previous one ends there, and this one starts there. */
  moveSpoolChange(beforeId: number, spoolId: number, atGaugeMm: number, atMs: number): Spool;
  /**
   * Divides a spool: from there on it is another one with the next number, and the end of the original.
   * @returns the new spool
   */
  splitSpool(spoolId: number, atGaugeMm: number, atMs: number): Spool;
  setSpoolNote(spoolId: number, note: string): void;
  setSpoolTitle(spoolId: number, title: string): void;
  /** How much strand is wanted on a spool; null = no longer said. */
  wantOnSpool(spoolId: number, wanted: PrintAmount | null): void;
  /** Inserts or replaces by ordinal. */
  saveMeasuredSections(runId: number, sections: readonly MeasuredSection[]): void;
  /** Adds a statement of a user and assigns its id. Earlier statements about the same target stay in the record but no longer count. */
  saveStatedSection(runId: number, section: Omit<StatedSection, 'id'>, replaces: number | null): StatedSection;
  saveAlarmChanges(runId: number | null, changes: readonly AlarmChange[]): void;
  /** Alarms that were raised outside any run belong to this one from now on, with all their steps. */
  adoptAlarms(runId: number, alarmIds: readonly number[]): void;
  /** Keeps how far the clock of the machine is ahead of the time of a run; null = they agree. */
  setClockAhead(runId: number, aheadMs: number | null): void;
  /**
   * Moves all times of an ended run that were written by the wrong clock, whole seconds, with an entry in the log. Those
   * within its alarms follow with `moveAlarms`.
   */
  moveRun(runId: number, byMs: number, entry: Omit<LogEntry, 'id'>): void;
  /** Moves the same times the other way. */
  moveRunBack(runId: number, byMs: number, entry: Omit<LogEntry, 'id'>): void;
  /**
   * Moves the times within some of the alarms; to be called until it returns something. A night may have thousands.
   * @returns those of alarms that have not returned to normal, because they are also kept elsewhere; null = there is more
   */
  moveAlarms(runId: number): MovedTimes | null;
  /** A user decided that the date of a run is right. */
  keepDate(runId: number, entry: Omit<LogEntry, 'id'>): void;
  /** Moves an ended run or spool to the bin. @returns false = it is not there, or has not ended */
  bin(kind: BinnedKind, id: number, atMs: number, who: string): boolean;
  /** Corrects when something in the bin was deleted. */
  redateBinned(kind: BinnedKind, id: number, atMs: number): void;
  /** @returns false = it is not in the bin */
  restore(kind: BinnedKind, id: number): boolean;
  log(entry: Omit<LogEntry, 'id'>): LogEntry;
  /** The settings of the line that were saved last and can be read. */
  loadLineSettings(): SavedSettings;
  saveLineSettings(settings: object): void;
  /** Settings of alarm types that users changed, as plain objects by type. */
  loadAlarmSettings(): Readonly<Record<string, unknown>>;
  /** null = restore the default. */
  saveAlarmSetting(type: AlarmType, setting: object | null, who: string, savedMs: number): void;
  /** Thermal models learnt for the zones of the line with this source. */
  loadZoneModels(source: string): ReadonlyMap<number, ThermalModel>;
  /** Replaces the stored models; an empty map deletes them. */
  saveZoneModels(source: string, models: ReadonlyMap<number, ThermalModel>, atMs: number): void;
  /** Alarms that had not returned to normal when the service stopped. */
  standingAlarms(): readonly Alarm[];
  lastAlarmId(): number;
  /** Writes something that changes nothing. @throws RecordFailing if the record cannot be written */
  probe(): void;
}

/** Reads the record. */
export interface RecordReader {
  /** Newest first. */
  runs(): readonly Run[];
  /** Whether there was ever a run, even one that has been removed for good. */
  hasHadRuns(): boolean;
  /** null = there is no such run. */
  run(runId: number): Run | null;
  /** The code of this house, which its labels carry. */
  house(): string;
  /** The id of a run by the name that labels carry, even if it was deleted; null = it was never here. */
  runNamed(house: string, number: number): number | null;
  /** In the order in which they came into force; empty for runs older than this record. */
  runSettings(runId: number): readonly RunSettings[];
  spools(runId: number): readonly Spool[];
  spool(spoolId: number): Spool | null;
  measuredSections(runId: number): readonly MeasuredSection[];
  /** Those that the list above leaves out. */
  unreadableSections(runId: number): readonly UnreadableSection[];
  /** Only statements that still count. */
  statedSections(runId: number): readonly StatedSection[];
  /** A statement by its id, even if it no longer counts; `replacedBy` = the newest statement about the same target, if any. */
  statedSection(
    id: number,
  ): { readonly section: StatedSection; readonly runId: number; readonly replacedBy: number | null } | null;
  /** In order of time; of one run, or outside runs (null). */
  alarmJournal(runId: number | null): readonly AlarmChange[];
  /** A page of the journal, in order of time or backwards. */
  alarmJournalPage(page: JournalPageOf): readonly JournalStep[];
  runDate(runId: number): RunDate;
  /** Runs with some alarms still at the old date, because the process was killed during the move. */
  movingRuns(): readonly number[];
  /** An ended run with a wrong date that no user has moved or kept yet; null = none. */
  datedWrong(): { readonly runId: number; readonly clockAheadMs: number } | null;
  /** How many rows of a run could not be read so far and are left out of all the above. */
  unreadableRows(runId: number): number;
  /** Deleted runs and spools, the last deleted first. All the above leave them out. */
  binned(): readonly Binned[];
  /** Newest first. */
  logEntries(filter: { runId?: number | null; limit: number }): readonly LogEntry[];
}

/** An entry of the alarm journal with its id, and its run if any. */
export interface JournalStep extends AlarmChange {
  readonly id: number;
  readonly runId: number | null;
}

export interface JournalPageOf {
  /** null = all, in and outside runs. */
  readonly runId: number | null;
  /** UTC ms; the end is exclusive. */
  readonly fromMs: number;
  readonly toMs: number;
  readonly newestFirst?: boolean;
  /** The last entry of the previous page; null = from the beginning, or from the end if the newest come first. */
  readonly after: Pick<JournalStep, 'timeMs' | 'id'> | null;
  readonly limit: number;
}
