import type { Alarm, AlarmChange, Condition } from '../alarm/alarm.ts';
import { AlarmEngine } from '../alarm/alarm-engine.ts';
import { sentenceOfState } from '../alarm/sentence-of-state.ts';
import { HeatWatch } from '../heat/heat-watch.ts';
import type { ZoneStatus } from '../heat/zone-status.ts';
import { messageOf, Problem } from '../problem/problem.ts';
import { type Reading, valueAt } from '../reading/reading.ts';
import { checkLineSettings } from '../settings/check-line-settings.ts';
import type { LineSettings } from '../settings/line-settings.ts';
import type { Source } from '../source/source.ts';
import { GaugeWatch } from '../strand/gauge-watch.ts';
import { LengthTracker } from '../strand/length.ts';
import type { MeasuredSection, Section } from '../strand/section.ts';
import type { Stage } from '../strand/stage.ts';
import { type StageState, StageTracker } from '../strand/stage-tracker.ts';
import { Judgement } from './judgement.ts';
import { Link, type LinkSnapshot } from './link.ts';
import type { Log } from './log.ts';
import type { LastSample, RecordKeeper, RecordReader, Run, SampleWriter, Spool } from './ports.ts';
import { RunBook, type Whereabouts } from './run-book.ts';
import { SectionKeeper } from './section-keeper.ts';
import { heatLimits, intakeOptions, sourceKeysDiffer, stageOptions, strandLimits } from './settings-to-parts.ts';
import type { Clock } from './steady-clock.ts';

/*
 * The way of one reading:
 *
 *   source ─ bytes ─ Link (intake) ─ Reading ─┬─ length ─ stage ─ runs and spools ──┐
 *                                             ├─ heat ───────┐                      ├─ record
 *                                             └─ sections ───┴─ conditions ─ alarms ┘
 *                                                                                   └─ listeners (live feed)
 * No step reaches back.
 */

export interface LineMonitorParts {
  readonly clock: Clock;
  readonly log: Log;
  readonly keeper: RecordKeeper;
  readonly reader: RecordReader;
  readonly samples: SampleWriter;
  /** Write pending readings; called once a second. */
  flushSamples(nowMs: number): void;
  openSource(address: string): Source;
  /** Settings as they stand, checked. */
  readonly settings: LineSettings;
  /** Address given at start; it wins over the setting. */
  readonly fixedSource: string | null;
  readonly timeZone: string;
}

export interface MonitorListener {
  reading?(reading: Reading, gaugeMm: number, diameterMm: number, speedMmPerS: number): void;
  /** Something that a person must see at once: an alarm, a section, the stage, the link. */
  changed?(): void;
  alarms?(changes: readonly AlarmChange[]): void;
}

/** The last reading, as the rooms understood it. */
export interface LastReading {
  readonly reading: Reading;
  readonly timeMs: number;
  readonly gaugeMm: number;
  readonly diameterMm: number;
  readonly outOfRoundMm: number;
  readonly speedMmPerS: number;
}

/** Everything there is to know about the line at this moment. */
export interface LineSnapshot {
  readonly nowMs: number;
  readonly settings: LineSettings;
  readonly link: LinkSnapshot;
  readonly stage: StageState;
  readonly run: Run | null;
  readonly spool: Spool | null;
  readonly last: LastReading | null;
  readonly zones: readonly ZoneStatus[];
  /** Sections of the run, in order of length. */
  readonly sections: readonly Section[];
  readonly alarms: readonly Alarm[];
  readonly sentence: string;
  readonly loudness: 'calm' | 'notice' | 'abnormal' | 'danger';
  /** Mean diameter on the spool so far; null = none yet. */
  readonly meanDiameterMm: number | null;
  /** Why the record cannot be written; null = all is well. */
  readonly recordTrouble: string | null;
}

const TICK_EVERY_MS = 200;
/** Conditions are judged this often in reading time: often enough for the 250 ms target, seldom enough for a replay. */
const JUDGE_EVERY_MS = 100;
const FLUSH_EVERY_MS = 1000;
const NO_ZONES: readonly ZoneStatus[] = [];

/** Watches one line: carries each reading through the rooms and keeps what they find. */
export class LineMonitor {
  readonly #parts: LineMonitorParts;
  readonly #listeners = new Set<MonitorListener>();
  #settings: LineSettings;
  #link: Link;
  #length: LengthTracker;
  /** What the length tracker had counted when the run began: gauge lengths of a run count from its beginning. */
  #gaugeZeroMm = 0;
  #stage: StageTracker;
  #stageState: StageState;
  #heat: HeatWatch;
  #zones: readonly ZoneStatus[] = NO_ZONES;
  #gauge: GaugeWatch;
  readonly #runs: RunBook;
  readonly #sections: SectionKeeper;
  readonly #judgement: Judgement;
  readonly #alarms: AlarmEngine;
  #last: LastReading | null = null;
  #judgedMs = 0;
  #flushedMs = 0;
  #timer: NodeJS.Timeout | null = null;
  #recordTrouble: string | null = null;

  constructor(parts: LineMonitorParts) {
    this.#parts = parts;
    this.#settings = parts.settings;
    this.#length = new LengthTracker({
      setSpeedMmPerS: this.#settings.setSpeedMmPerS,
    });
    this.#stage = new StageTracker(stageOptions(this.#settings));
    this.#stageState = {
      stage: 'stopped',
      byPerson: false,
      sinceMs: parts.clock(),
      missing: [],
    };
    this.#heat = new HeatWatch(heatLimits(this.#settings));
    this.#gauge = new GaugeWatch(this.#settings);
    this.#runs = new RunBook(parts.keeper, this.#settings);
    this.#sections = new SectionKeeper(parts.keeper, parts.reader, strandLimits(this.#settings));
    this.#judgement = new Judgement();
    this.#alarms = new AlarmEngine({
      standing: parts.keeper.standingAlarms(),
      lastId: parts.keeper.lastAlarmId(),
    });
    this.#link = this.#makeLink();
  }

  get settings(): LineSettings {
    return this.#settings;
  }

  start(): void {
    this.#takeUpUnfinished();
    this.#link.start();
    this.#timer = setInterval(() => this.#tick(), TICK_EVERY_MS);
  }

  /** Stops watching. A run that is under way stays open and is taken up at the next start. */
  async stop(): Promise<void> {
    if (this.#timer !== null) clearInterval(this.#timer);
    this.#timer = null;
    await this.#link.stop();
    this.#keep('sections', () => this.#sections.save());
    this.#keep('readings', () => this.#parts.samples.flush());
  }

  subscribe(listener: MonitorListener): () => void {
    this.#listeners.add(listener);
    return () => this.#listeners.delete(listener);
  }

  snapshot(): LineSnapshot {
    const link = this.#link.snapshot();
    const alarms = this.#alarms.standing();
    const gaugeMm = this.#gaugeMm;
    const said = sentenceOfState({
      stage: this.#stageState.stage,
      missing: this.#stageState.missing,
      alarms,
      spoolOrdinal: this.#runs.spool?.ordinal ?? null,
      woundMm: this.#runs.spool === null ? null : this.#runs.woundMm(gaugeMm),
      diameterMm: this.#last?.diameterMm ?? null,
      link: {
        phase: link.status.phase,
        words: link.status.words,
        silentForS: link.silentForS,
        live: link.timing === 'live',
      },
    });
    return {
      nowMs: this.#parts.clock(),
      settings: this.#settings,
      link,
      stage: this.#stageState,
      run: this.#runs.run,
      spool: this.#runs.spool,
      last: this.#last,
      zones: this.#zones,
      sections: this.#sections.effective(),
      alarms,
      ...said,
      meanDiameterMm: this.#sections.meanDiameterMm(),
      recordTrouble: this.#recordTrouble,
    };
  }

  /** Length on a spool: of a finished one, or of the one being wound, now. */
  woundMm(spool: Spool): number {
    if (spool.id === this.#runs.spool?.id) return this.#runs.woundMm(this.#gaugeMm);
    return Math.max(0, (spool.endGaugeMm ?? spool.startGaugeMm) - spool.startGaugeMm);
  }

  /** Measured sections of a run, those still growing included. */
  measuredSections(runId: number): readonly MeasuredSection[] {
    return this.#runs.run?.id === runId ? this.#sections.measured() : this.#parts.reader.measuredSections(runId);
  }

  /** A person spoke about sections of a run. */
  sectionsStated(runId: number): void {
    if (this.#runs.run?.id === runId) this.#sections.stated();
    this.#changed();
  }

  /** @param stage null = let the line's own signs decide again */
  setStage(stage: Stage | null, who: string): void {
    const timeMs = this.#nowMs();
    const what = stage === null ? 'Let the line tell its stage by itself.' : `Set the stage to ${stage}.`;
    this.#keepLog(who, what);
    this.#stageIs(this.#stage.person(stage, timeMs), timeMs);
    this.#judge(timeMs);
    this.#changed();
  }

  /** @throws Problem `wrong-state` where no spool is being wound */
  changeSpool(who: string): void {
    const done = this.#runs.changeSpool(this.#whereabouts(this.#nowMs()));
    if (done === null) {
      throw new Problem(
        'wrong-state',
        'No spool is being wound, so none can be changed.',
        'Say that winding has begun first.',
      );
    }
    this.#sections.spoolBegan(this.#runs.spool?.startGaugeMm ?? 0);
    this.#keepLog(who, `Changed the spool. ${done.join(' ')}`);
    this.#changed();
  }

  /** @throws Problem `unknown-alarm`, `wrong-state` */
  acknowledge(alarmId: number, who: string): Alarm {
    const change = this.#alarms.acknowledge(alarmId, who, this.#nowMs());
    this.#alarmsChanged([change]);
    this.#keepLog(who, `Acknowledged “${change.alarm.sentence}”`);
    return change.alarm;
  }

  acknowledgeAll(who: string): readonly Alarm[] {
    const changes = this.#alarms.acknowledgeAll(who, this.#nowMs());
    this.#alarmsChanged(changes);
    if (changes.length > 0) this.#keepLog(who, `Acknowledged ${changes.length} alarms.`);
    return changes.map((change) => change.alarm);
  }

  /** Check, save and use new settings. @throws Problem `bad-setting` */
  async applySettings(given: unknown, who: string): Promise<void> {
    const next = checkLineSettings(given, this.#settings);
    // An address that cannot be understood must be refused before anything is saved.
    if (this.#parts.fixedSource === null) this.#parts.openSource(next.source);
    const before = this.#settings;
    this.#parts.keeper.saveLineSettings(next);
    this.#settings = next;
    const names = (Object.keys(next) as (keyof LineSettings)[]).filter(
      (name) => JSON.stringify(next[name]) !== JSON.stringify(before[name]),
    );
    if (names.length === 0) return;
    this.#keepLog(who, `Changed the settings ${names.map((n) => `${n} to ${JSON.stringify(next[n])}`).join(', ')}.`);
    this.#sections.setLimits(strandLimits(next));
    this.#heat.setLimits(heatLimits(next));
    this.#gauge = new GaugeWatch(next);
    this.#stage = new StageTracker(stageOptions(next), this.#stageState);
    if (next.setSpeedMmPerS !== before.setSpeedMmPerS) this.#lengthFrom(next.setSpeedMmPerS);
    this.#runs.setOptions(next);
    if (sourceKeysDiffer(before, next)) {
      await this.#link.stop();
      this.#link = this.#makeLink();
      this.#judgement.linkMade();
      this.#link.start();
    }
    this.#changed();
  }

  /** Go on counting from here at another set speed. */
  #lengthFrom(setSpeedMmPerS: number): void {
    const last = this.#last;
    const from =
      last === null
        ? undefined
        : {
            timeMs: last.timeMs,
            gaugeMm: this.#length.gaugeMm,
            lengthCounterMm: orNull(valueAt(last.reading, last.reading.layout.lengthCounter)),
            speedMmPerS: setSpeedMmPerS,
          };
    this.#length = new LengthTracker({ setSpeedMmPerS }, from);
  }

  get #gaugeMm(): number {
    return this.#length.gaugeMm - this.#gaugeZeroMm;
  }

  // ---- one reading ----

  #reading(reading: Reading): void {
    const { layout } = reading;
    this.#length.step(reading);
    const { speedMmPerS, gapMm } = this.#length;
    const diameterMm = valueAt(reading, layout.diameter);
    const outOfRoundMm = Math.abs(valueAt(reading, layout.diameterX) - valueAt(reading, layout.diameterY));
    const { timeMs } = reading;
    this.#gauge.step(timeMs, diameterMm, speedMmPerS);
    this.#zones = this.#heat.step(reading);
    const stage = this.#stage.step({
      timeMs,
      gaugeMm: this.#length.gaugeMm,
      diameterMm,
      speedMmPerS,
      zones: this.#zones,
    });
    if (stage !== this.#stageState || (stage.stage === 'stopped' && this.#runs.run !== null)) {
      this.#stageIs(stage, timeMs);
    }
    // Only now: a run that has just begun counts its gauge lengths from here.
    const gaugeMm = this.#gaugeMm;
    this.#last = { reading, timeMs, gaugeMm, diameterMm, outOfRoundMm, speedMmPerS };
    const { run } = this.#runs;
    let sectionChanged = false;
    if (run !== null) {
      this.#append(run.id, reading);
      const strandRuns = stage.stage === 'winding' || stage.stage === 'purging';
      sectionChanged = strandRuns
        ? this.#sections.step(timeMs, gaugeMm, diameterMm, { gapMm, outOfRoundMm, speedMmPerS })
        : this.#sections.pause(timeMs);
    }
    if (sectionChanged || timeMs - this.#judgedMs >= JUDGE_EVERY_MS || timeMs < this.#judgedMs) this.#judge(timeMs);
    for (const listener of this.#listeners) {
      // Written out, because a function made for each reading is garbage made for each reading.
      try {
        listener.reading?.(reading, gaugeMm, diameterMm, speedMmPerS);
      } catch (thrown) {
        this.#listenerFailed(thrown);
      }
    }
    if (sectionChanged) this.#changed();
  }

  #append(runId: number, reading: Reading): void {
    try {
      this.#parts.samples.append(runId, reading, this.#gaugeMm);
    } catch (thrown) {
      this.#recordFails('readings', thrown);
    }
  }

  #stageIs(next: StageState, timeMs: number): void {
    const before = this.#stageState;
    this.#stageState = next;
    const hadRun = this.#runs.run;
    // A run counts its gauge lengths from its beginning, and its first spool may begin with it.
    if (hadRun === null && next.stage !== 'stopped') this.#gaugeZeroMm = this.#length.gaugeMm;
    const hadSpool = this.#runs.spool;
    this.#keep('runs', () => {
      const { title } = this.#link;
      const { timeZone } = this.#parts;
      const done = this.#runs.stageIs(next.stage, next.byPerson, this.#whereabouts(timeMs), { title, timeZone });
      for (const what of done) this.#keepLog('service', what);
    });
    const { run, spool } = this.#runs;
    if (run !== null && run !== hadRun) this.#sections.runBegan(run.id);
    if (spool !== null && spool !== hadSpool) this.#sections.spoolBegan(spool.startGaugeMm);
    if (spool === null && hadSpool !== null) this.#sections.spoolEnded();
    if (run === null && hadRun !== null) {
      this.#sections.runEnded(timeMs);
      this.#parts.samples.flush();
    }
    if (before.stage !== next.stage) this.#changed();
  }

  #whereabouts(timeMs: number): Whereabouts {
    return {
      timeMs,
      gaugeMm: this.#gaugeMm,
      lostAtGaugeMm: this.#sections.lostAtGaugeMm(),
    };
  }

  // ---- conditions and alarms ----

  #judge(timeMs: number): void {
    this.#judgedMs = timeMs;
    const settings = this.#settings;
    const conditions = this.#judgement.ofReadings({
      timeMs,
      stage: this.#stageState.stage,
      zones: this.#zones,
      zoneNames: settings.zoneNames,
      heatLimits: heatLimits(settings),
      strandLimits: strandLimits(settings),
      underway: this.#sections.underway(this.#gaugeMm - settings.gaugeToWinderMm),
      spool: this.#runs.spool,
      gaugeMm: this.#gaugeMm,
      gaugeToWinderMm: settings.gaugeToWinderMm,
      speedMmPerS: this.#length.speedMmPerS,
      gauge: {
        frozen: this.#gauge.frozen,
        diameterMm: this.#last?.diameterMm ?? Number.NaN,
        forS: this.#gauge.sameForS,
      },
      restarts: this.#link.restarts,
    });
    this.#observe(conditions, timeMs);
  }

  #observe(conditions: readonly Condition[], timeMs: number): void {
    for (const condition of conditions) {
      const changes = this.#alarms.observe(condition, timeMs);
      if (changes.length > 0) this.#alarmsChanged(changes);
    }
    const matured = this.#alarms.tick(timeMs);
    if (matured.length > 0) this.#alarmsChanged(matured);
  }

  #alarmsChanged(changes: readonly AlarmChange[]): void {
    if (changes.length === 0) return;
    this.#keep('alarms', () => this.#parts.keeper.saveAlarmChanges(this.#runs.run?.id ?? null, changes));
    for (const { what, alarm } of changes) {
      this.#parts.log.info(`Alarm ${what}: ${alarm.sentence}`, {
        alarm: alarm.id,
        type: alarm.type,
      });
    }
    for (const listener of this.#listeners) this.#tell(() => listener.alarms?.(changes));
    this.#changed();
  }

  // ---- time that passes without readings ----

  #tick(): void {
    this.#link.tick();
    const nowMs = this.#parts.clock();
    const link = this.#link.snapshot();
    const quietForS = this.#link.quietForS();
    this.#observe(this.#judgement.ofLink(link, quietForS, this.#recordTrouble), this.#nowMs());
    if (nowMs - this.#flushedMs >= FLUSH_EVERY_MS) {
      this.#flushedMs = nowMs;
      const written = this.#keep('readings', () => this.#parts.flushSamples(nowMs));
      const saved = this.#keep('sections', () => this.#sections.save());
      if (written && saved) this.#recordTrouble = null;
    }
  }

  /** In a replay time is what the readings say. */
  #nowMs(): number {
    return this.#link.timing === 'recorded' && this.#last !== null ? this.#last.timeMs : this.#parts.clock();
  }

  // ---- start, and going on after a stop ----

  #makeLink(): Link {
    const { clock, log, openSource, fixedSource } = this.#parts;
    const source = openSource(fixedSource ?? this.#settings.source);
    const startMs = clock();
    const options = intakeOptions(this.#settings, startMs, this.#last?.timeMs ?? null);
    return new Link(source, options, clock, log, {
      reading: (reading) => this.#reading(reading),
      note: ({ text }) => log.info(`Note of the firmware: ${text}`),
      status: (status) => {
        log.info(status.words, { source: source.title });
        if (status.phase === 'ended') this.#sourceEnded();
        this.#changed();
      },
    });
  }

  /** A recording has come to its end: so has its run. */
  #sourceEnded(): void {
    if (this.#runs.run === null || this.#last === null) return;
    const { timeMs } = this.#last;
    this.#sections.runEnded(timeMs);
    this.#keep('runs', () => this.#keepLog('service', this.#runs.endRun(this.#whereabouts(timeMs))));
    this.#keep('readings', () => this.#parts.samples.flush());
    this.#stageState = this.#stage.person('stopped', timeMs);
    this.#stageState = this.#stage.person(null, timeMs);
  }

  /**
   * The service was stopped in the middle of a run. A live line goes on with it, if it was not long ago; the strand that
   * passed meanwhile is unknown. A recording or a simulation begins anew, and so does its run.
   */
  #takeUpUnfinished(): void {
    const found = this.#parts.keeper.unfinishedRun();
    if (found === null) return;
    const { run, spool, last } = found;
    const nowMs = this.#parts.clock();
    const recent = last !== null && nowMs - last.timeMs < this.#settings.stopAfterMin * 60_000 && nowMs > last.timeMs;
    const same = this.#link.timing === 'live' && this.#link.title === run.sourceTitle && this.#link.resumable;
    if (!recent || !same) {
      this.#runs.closeUnfinished(run, spool, last);
      this.#parts.log.info(`Run ${run.id} was not ended when the service stopped; it ends with its last reading.`);
      return;
    }
    this.#resume(run, spool, last);
  }

  #resume(run: Run, spool: Spool | null, last: LastSample): void {
    const spools = this.#parts.reader.spools(run.id);
    this.#runs.resume(run, spool, spools.length);
    this.#length = new LengthTracker(
      { setSpeedMmPerS: this.#settings.setSpeedMmPerS },
      {
        timeMs: last.timeMs,
        gaugeMm: last.gaugeMm,
        lengthCounterMm: last.values.len ?? null,
        speedMmPerS: last.values.v ?? null,
      },
    );
    this.#stage = new StageTracker(stageOptions(this.#settings), {
      stage: spool === null ? 'heating' : 'winding',
      byPerson: false,
      sinceMs: last.timeMs,
    });
    this.#stageState = this.#stage.person(null, last.timeMs);
    this.#sections.resume(run.id, last.gaugeMm, spool !== null);
    this.#keepLog('service', `Went on with run ${run.id} after the service was stopped.`);
  }

  // ---- keeping the record, whatever happens ----

  #keepLog(who: string, what: string): void {
    this.#parts.log.info(what, { who });
    this.#keep('log', () => {
      this.#parts.keeper.log({
        timeMs: this.#parts.clock(),
        runId: this.#runs.run?.id ?? null,
        who,
        what,
      });
    });
  }

  /** Writing may fail (a full disk): watching and alarming go on, and an alarm says that the record does not. */
  #keep(what: string, write: () => void): boolean {
    try {
      write();
      return true;
    } catch (thrown) {
      this.#recordFails(what, thrown);
      return false;
    }
  }

  #recordFails(what: string, thrown: unknown): void {
    const why = messageOf(thrown);
    if (this.#recordTrouble === null) this.#parts.log.error(`Cannot write ${what}: ${why}`);
    this.#recordTrouble = why;
  }

  #listenerFailed(thrown: unknown): void {
    this.#parts.log.error('A listener of the monitor failed', { why: messageOf(thrown) });
  }

  #changed(): void {
    for (const listener of this.#listeners) this.#tell(() => listener.changed?.());
  }

  /** A listener that fails must not harm its neighbour. */
  #tell(call: () => void): void {
    try {
      call();
    } catch (thrown) {
      this.#parts.log.error('A listener of the monitor failed', {
        why: messageOf(thrown),
      });
    }
  }
}

const orNull = (value: number): number | null => (Number.isNaN(value) ? null : value);
