import type { Alarm, AlarmChange, AlarmType } from '../alarm/alarm.ts';
import type { ThermalModel } from '../heat/thermal-model.ts';
import type { Reading } from '../reading/reading.ts';
import type { Stage } from '../stage/stage.ts';
import type { MeasuredSection, StatedSection } from '../strand/section.ts';
import type { StrandLimits } from '../strand/strand-limits.ts';

/** The feedstock of a run and its preparation, in a person's own words. */
export interface Lot {
  readonly name: string;
  /** How it was sorted, sieved, dried, blended. */
  readonly preparation: string;
}

/** What the line was set to from a gauge length of a run on: what its strand was judged and told by. */
export interface RunSettings {
  readonly fromGaugeMm: number;
  readonly limits: StrandLimits;
  readonly gaugeToWinderMm: number;
  readonly densityGPerCm3: number;
  /** By which detector its sections were found; records from before it was kept have none. */
  readonly detectorVersion?: number;
}

/** From heating up to shutting down. Times UTC ms. */
export interface Run {
  readonly id: number;
  readonly startedMs: number;
  readonly endedMs: number | null;
  /** IANA name of the zone in which the run's clock times are told. */
  readonly timeZone: string;
  readonly sourceTitle: string;
  readonly note: string;
  /** null = nobody said. */
  readonly lot: Lot | null;
}

/**
 * What is wound between two spool changes. `startGaugeMm` is the gauge length of the strand that lies innermost: a point
 * with gauge length g lies at spool position g − startGaugeMm. `endGaugeMm` is where its outer end was when it was taken
 * off; null while it is being wound.
 */
export interface Spool {
  readonly id: number;
  readonly runId: number;
  /** 1 = first spool of the run. */
  readonly ordinal: number;
  readonly startGaugeMm: number;
  readonly endGaugeMm: number | null;
  readonly startedMs: number;
  readonly endedMs: number | null;
  readonly note: string;
}

/** What a person did, or what happened to the service itself (`who` = 'service'). */
export interface LogEntry {
  readonly id: number;
  readonly timeMs: number;
  readonly runId: number | null;
  readonly who: string;
  /** A plain sentence: "Acknowledged “Blob”.", "Started spool 2." */
  readonly what: string;
}

/** The last reading that was stored of a run: enough to go on after a crash. */
export interface LastSample {
  readonly timeMs: number;
  readonly gaugeMm: number;
  readonly values: Readonly<Record<string, number | null>>;
}

/** Writes readings. All calls return at once or throw; what was appended is on disk at the latest a second later. */
export interface SampleWriter {
  /** Readings of one run, in order; `gaugeMm` never falls. */
  append(runId: number, reading: Reading, gaugeMm: number): void;
  /** Write what is pending and seal the open block. */
  flush(): void;
}

export type WindowAxis = 'time' | 'length';

export interface WindowQuery {
  readonly runId: number;
  readonly axis: WindowAxis;
  /** UTC ms or gauge length in mm, inclusive. */
  readonly from: number;
  readonly to: number;
  /** Number of equal columns, 1…4000. */
  readonly columns: number;
  /** Channel names; an unknown one gives a channel of gaps. */
  readonly channels: readonly string[];
  /** Standard deviations are asked for too: more must be read for them. */
  readonly spread?: boolean;
}

/** One value a column; null = no reading with a value in that column. */
export interface ChannelColumns {
  readonly min: readonly (number | null)[];
  readonly max: readonly (number | null)[];
  readonly mean: readonly (number | null)[];
  /** Sample standard deviation (n − 1), in the channel's unit; only where the query asks for the spread. null for n < 2. */
  readonly sd?: readonly (number | null)[];
}

/**
 * The answer to a window query. Column i begins at from + (to − from) × i / columns. The first one begins at `from` and the
 * last one ends at `to` exactly; where columns hold more than 256 readings, the edges between them may lie up to an
 * eighth of a column beside their place. All that is told of a column, extremes, mean and count, is exactly that of the
 * readings from its first one, which is named, to the next column's first one.
 */
export interface WindowColumns {
  readonly axis: WindowAxis;
  readonly from: number;
  readonly to: number;
  /** Readings in each column. */
  readonly count: readonly number[];
  /** Time of the first reading in the column, UTC ms. */
  readonly timeMs: readonly (number | null)[];
  /** Gauge length of the first reading in the column, mm. */
  readonly gaugeMm: readonly (number | null)[];
  readonly channels: Readonly<Record<string, ChannelColumns>>;
}

export interface WindowBytes {
  readonly bytes: Uint8Array;
  readonly gzipped: boolean;
}

/** What is known of a run's readings as a whole. */
export interface SampleExtent {
  readonly count: number;
  readonly fromMs: number;
  readonly toMs: number;
  readonly fromGaugeMm: number;
  readonly toGaugeMm: number;
  readonly channels: readonly {
    readonly name: string;
    readonly unit: string;
  }[];
}

/** Reads readings. Asynchronous, so that a reader may live on another thread. */
export interface SampleReader {
  window(query: WindowQuery): Promise<WindowColumns>;
  /** The same as bytes whose layout `window-bytes.ts` tells, made where the readings are read; `pack` = gzipped, if it helps. */
  windowBytes(query: WindowQuery, pack: boolean): Promise<WindowBytes>;
  /** null = the run has no readings. */
  extent(runId: number): Promise<SampleExtent | null>;
}

/** Raw columns of a stretch of strand, one entry a reading; NaN = gap. */
export interface SampleColumns {
  readonly timeMs: Float64Array;
  readonly gaugeMm: Float64Array;
  readonly values: Readonly<Record<string, Float64Array>>;
}

/** Reads raw columns, for judging a run anew and for analysis. */
export interface SampleColumnsReader {
  /** All readings with fromGaugeMm ≤ gauge length ≤ toGaugeMm, in order; an unknown channel is all gaps (NaN). */
  readings(runId: number, fromGaugeMm: number, toGaugeMm: number, channels: readonly string[]): Promise<SampleColumns>;
  /**
   * Readings of a run by number: [first, first + count) in order of time, fewer at its end. Of a run that is going the last
   * second may be missing.
   */
  piece(runId: number, first: number, count: number, channels: readonly string[]): Promise<SampleColumns>;
}

/** Keeps the record of runs, and of what people said. Every call is durable when it returns, or throws. */
export interface RecordKeeper {
  beginRun(run: Omit<Run, 'id' | 'endedMs' | 'note' | 'lot'>): Run;
  endRun(runId: number, endedMs: number): void;
  /** The run that was not ended, newest first, with its last reading: the service was stopped in the middle of it. */
  unfinishedRun(): {
    readonly run: Run;
    readonly spool: Spool | null;
    readonly last: LastSample | null;
    /** The stage that a person had set; null = the line's own signs decided. */
    readonly stageWord: Stage | null;
  } | null;
  /** The stage that a person has set in a run; null = they left it to the line again. */
  saveStageWord(runId: number, stage: Stage | null): void;
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

/** A printer that strand is judged for. */
export interface Printer {
  readonly id: number;
  readonly name: string;
  readonly hotendLimitMm: number;
  readonly leastFeedableMm: number;
  readonly toleranceMm: number;
  readonly note: string;
}

/** A step that was done at the rewinder; lengths in mm, counted since the cut before. */
export interface KeptCut {
  readonly id: number;
  readonly action: 'keep' | 'discard';
  readonly countedMm: number;
  readonly landmarkCountedMm: number | null;
  readonly reachedEnd: boolean;
  readonly atMs: number;
  readonly who: string;
  /**
   * Where the piece lies on the strand, by gauge length, and where the count was last surely known before and after it
   * was cut off; null = ticked off before places were kept: it follows from the counts.
   */
  readonly place: {
    readonly fromGaugeMm: number;
    readonly toGaugeMm: number;
    readonly knownToGaugeMm: number;
    readonly knownAfterGaugeMm: number;
    /** True mm a mm of gauge length, as they were taken to be then: the counts were true ones. */
    readonly lengthFactor: number;
  } | null;
}

/** A name as a user gave it to a coil; empty = taken away. */
export interface GivenCoilName {
  readonly id: number;
  /** In the order in which coils came off in the plan of then, from 1. */
  readonly coil: number;
  readonly name: string;
  /** The strand of the coil; null = named before places were kept, and not looked up yet. */
  readonly place: { readonly fromGaugeMm: number; readonly toGaugeMm: number } | null;
}

/** How a spool is judged and cut, as chosen for it. */
export interface SpoolChoices {
  /** 0 = the line's own limits. */
  readonly printerId: number;
  readonly objective: 'mostLength' | 'fewestCuts';
  /** Shortest coil worth keeping; null = as set for the line. */
  readonly shortestMm: number | null;
  readonly doubtful: 'keep' | 'cut';
  readonly unknown: 'keep' | 'cut';
}

/** A tape measurement of strand of a spool: `measuredMm` by tape of what the line counted as `indicatedMm`. */
export interface LengthCorrection {
  readonly measuredMm: number;
  readonly indicatedMm: number;
  /** k = 2. */
  readonly uncertaintyMm: number;
  readonly atMs: number;
  readonly who: string;
}

/**
 * What people said about printers, and about a spool after it was wound. Cuts, names and measurements are only ever
 * appended: taking one back is a word of its own. Every call is durable when it returns, or throws.
 */
export interface SpoolWords {
  /** By name. */
  printers(): readonly Printer[];
  printer(id: number): Printer | null;
  addPrinter(printer: Omit<Printer, 'id'>, atMs: number): Printer;
  changePrinter(printer: Printer, atMs: number): void;
  removePrinter(id: number, atMs: number): void;
  /** Those that count, in the order in which they were made. */
  cuts(spoolId: number): readonly KeptCut[];
  addCut(spoolId: number, cut: Omit<KeptCut, 'id'>): KeptCut;
  /** The last cut no longer counts. Null = there was none. */
  takeBackLastCut(spoolId: number, atMs: number, who: string): KeptCut | null;
  /** All names that were ever given, oldest first. */
  coilNames(spoolId: number): readonly GivenCoilName[];
  nameCoil(spoolId: number, given: Omit<GivenCoilName, 'id'>, atMs: number, who: string): void;
  /** Where a name that was given by number lies. */
  placeCoilName(id: number, place: NonNullable<GivenCoilName['place']>): void;
  /** null = nothing was chosen for this spool. */
  choices(spoolId: number): SpoolChoices | null;
  choose(spoolId: number, choices: SpoolChoices, atMs: number, who: string): void;
  /** What was kept of reading all of a spool with these inputs, as a plain object; null = nothing that can be read. */
  examination(spoolId: number, inputs: string): unknown;
  keepExamination(spoolId: number, inputs: string, examination: object, atMs: number): void;
  /** The last one; null = none, or taken away. */
  lengthCorrection(spoolId: number): LengthCorrection | null;
  /** null takes the correction away. */
  correctLength(
    spoolId: number,
    correction: Omit<LengthCorrection, 'atMs' | 'who'> | null,
    atMs: number,
    who: string,
  ): void;
}

/** A copy of the whole record. */
export interface Backup {
  readonly path: string;
  readonly timeMs: number;
  readonly bytes: number;
}

/** Keeping house with the record. What it does it does in small steps, so that no reading waits. */
export interface RecordHouse {
  /** Bytes of its files. */
  recordBytes(): number;
  /** Bytes of it that are in use: less than its files hold after something was let go. */
  usedBytes(): number;
  /** Bytes that the disk of the record has left. */
  freeBytes(): number;
  /**
   * Let some of the raw readings of old runs go, the oldest run first; what was summed up of them stays.
   * @returns the run that it now begins with; `going` = more of one is to go; null = nothing is older
   */
  thinStep(endedBeforeMs: number, nowMs: number): { readonly begun: number } | 'going' | null;
  /** Give some of the free space in the files back to the disk. */
  giveBack(): void;
  /**
   * A checked copy in a folder; the oldest ones beyond `kept` go.
   * @throws Problem `backup-failed`
   */
  backup(folder: string, nowMs: number, kept: number): Promise<Backup>;
  /** Newest first. */
  backups(folder: string): readonly Backup[];
  /** Read all of it. @returns what is wrong, in words; empty = nothing */
  check(): Promise<readonly string[]>;
  /** Remove what a kill left half done in the record, in its folder and in that of the backups; at the start. */
  sweep(backupFolder: string): Promise<void>;
  /** A path for what is on its way, on the disk of the record; whoever makes it removes it. `judged` = a folder. */
  scratchPath(ending?: 'sqlite' | 'log' | 'judged'): string;
  /** Bytes of the stored readings and summaries of a run: nearly all that a file of it takes. */
  runBytes(runId: number): number;
  /** Write all that is known of an ended run into a new file. */
  writeArchive(runId: number, target: string): Promise<void>;
  /**
   * Take the run of such a file in, under a number of its own, in small steps: no alarm waits for it.
   * @param file is changed: give a copy
   * @param stop ends it early; the promise then rejects, and nothing of it is in the record
   * @throws Problem `bad-archive`
   */
  readArchive(file: string, stop?: AbortSignal): Promise<number>;
}
