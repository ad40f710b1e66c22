import type { Alarm, AlarmChange, AlarmType } from '../../alarm/alarm.ts';
import type { Lot, Run, RunSettings } from '../../entities/run.ts';
import type { Spool } from '../../entities/spool.ts';
import type { ThermalModel } from '../../heat/thermal-model.ts';
import type { Stage } from '../../stage/stage.ts';
import type { MeasuredSection, StatedSection } from '../../strand/section.ts';
import type { LastSample } from './samples.ts';

/** What a person did, or what happened to the service itself (`who` = 'service'). */
export interface LogEntry {
  readonly id: number;
  readonly timeMs: number;
  readonly runId: number | null;
  readonly who: string;
  /** A plain sentence: "Acknowledged “Blob”.", "Started spool 2." */
  readonly what: string;
}

/** Keeps the record of runs, and of what people said. Every call is durable when it returns, or throws. */
export interface RecordWriter {
  beginRun(run: Omit<Run, 'id' | 'endedMs' | 'note' | 'lot'>): Run;
  endRun(runId: number, endedMs: number): void;
  /** The run that was not ended, newest first, with its last reading: the service was stopped in the middle of it. */
  unfinishedRun(): {
    readonly run: Run;
    readonly spool: Spool | null;
    readonly last: LastSample | null;
    /** The stage that a person had set; null = the line's own signs decided. */
    readonly statedStage: Stage | null;
  } | null;
  /** The stage that a person has set in a run; null = they left it to the line again. */
  saveStatedStage(runId: number, stage: Stage | null): void;
  setRunNote(runId: number, note: string): void;
  /** A new word about the lot; earlier ones stay in the record. Null takes it away. */
  setLot(runId: number, lot: Lot | null, atMs: number, who: string): void;
  addRunSettings(runId: number, settings: RunSettings): void;
  beginSpool(spool: Omit<Spool, 'id' | 'endedMs' | 'endGaugeMm' | 'note'>): Spool;
  /** It became known where its winding began. */
  moveSpoolStart(spoolId: number, startGaugeMm: number, startedMs: number): Spool;
  endSpool(spoolId: number, endGaugeMm: number, endedMs: number): void;
  /** A spool that was changed without a stop was changed elsewhere: the one before ends there, and it begins there. */
  moveSpoolChange(beforeId: number, spoolId: number, atGaugeMm: number, atMs: number): Spool;
  /**
   * It was two: what lies from there on is another spool, with the next number, that ends where and when this one did.
   * @returns the other one
   */
  splitSpool(spoolId: number, atGaugeMm: number, atMs: number): Spool;
  setSpoolNote(spoolId: number, note: string): void;
  /** Insert or replace by ordinal. */
  saveMeasuredSections(runId: number, sections: readonly MeasuredSection[]): void;
  /** A new word of a person; `id` is given. Earlier words about the same target stay in the record but no longer count. */
  saveStatedSection(runId: number, section: Omit<StatedSection, 'id'>, replaces: number | null): StatedSection;
  saveAlarmChanges(runId: number | null, changes: readonly AlarmChange[]): void;
  log(entry: Omit<LogEntry, 'id'>): LogEntry;
  /** Settings of the line as last saved, as a plain object; null = never saved. */
  loadLineSettings(): unknown;
  saveLineSettings(settings: object): void;
  /** What people set about the alarm types, as plain objects by type. */
  loadAlarmSettings(): Readonly<Record<string, unknown>>;
  /** null = as it was before anybody changed it. */
  saveAlarmSetting(type: AlarmType, setting: object | null, who: string, savedMs: number): void;
  /** What was learnt of each zone of the line with this source. */
  loadZoneModels(source: string): ReadonlyMap<number, ThermalModel>;
  /** In place of what was kept; an empty map forgets. */
  saveZoneModels(source: string, models: ReadonlyMap<number, ThermalModel>, atMs: number): void;
  /** Alarms that were not normal when the service stopped, so that their life goes on. */
  standingAlarms(): readonly Alarm[];
  lastAlarmId(): number;
}

/** Reads the record back. */
export interface RecordReader {
  /** Newest first. */
  runs(): readonly Run[];
  /** null = there is no such run. */
  run(runId: number): Run | null;
  /** In the order in which they came into force; empty for runs older than this record. */
  runSettings(runId: number): readonly RunSettings[];
  spools(runId: number): readonly Spool[];
  spool(spoolId: number): Spool | null;
  measuredSections(runId: number): readonly MeasuredSection[];
  /** Only the words that count. */
  statedSections(runId: number): readonly StatedSection[];
  /** One word by its id, whether it still counts or not; `replacedBy` = the newest word about the same target, if any. */
  statedSection(
    id: number,
  ): { readonly section: StatedSection; readonly runId: number; readonly replacedBy: number | null } | null;
  /** In order of time; of one run, or without a run. */
  alarmJournal(runId: number | null): readonly AlarmJournalEntry[];
  /** A page of the journal, in order of time. */
  alarmJournalPage(page: JournalPageOf): readonly JournalStep[];
  /** Newest first. */
  logEntries(filter: { runId?: number | null; limit: number }): readonly LogEntry[];
}

/** A step of an alarm's life as it was kept, with the alarm as it was then. */
type AlarmJournalEntry = AlarmChange;

/** A step of the journal with its place in it, and the run that it is told of. */
export interface JournalStep extends AlarmChange {
  readonly id: number;
  readonly runId: number | null;
}

export interface JournalPageOf {
  /** null = of all runs and of none. */
  readonly runId: number | null;
  /** UTC ms; the end exclusive. */
  readonly fromMs: number;
  readonly toMs: number;
  /** The last step of the page before; null = from the beginning. */
  readonly after: Pick<JournalStep, 'timeMs' | 'id'> | null;
  readonly limit: number;
}
