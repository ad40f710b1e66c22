import type { Alarm, AlarmChange } from '../alarm/alarm.ts';
import { sentenceOfState } from '../alarm/sentence-of-state.ts';
import { type Unwatched, unwatched } from '../alarm/unwatched.ts';
import type { ExpectedThen } from '../heat/expected-past.ts';
import type { ThermalModel } from '../heat/thermal-model.ts';
import type { HeatLimits, ZoneStatus } from '../heat/zone-status.ts';
import { messageOf, Problem, within } from '../problem/problem.ts';
import type { Reading } from '../reading/reading.ts';
import { understoodIn } from '../reading/understood.ts';
import { checkLineSettings } from '../settings/check-line-settings.ts';
import type { LineSettings } from '../settings/line-settings.ts';
import type { Source } from '../source/source.ts';
import { reachesWinderInS, spoolPositionMm, winderGaugeMm } from '../strand/position.ts';
import type { MeasuredSection, Section } from '../strand/section.ts';
import type { Stage } from '../strand/stage.ts';
import type { StageState } from '../strand/stage-tracker.ts';
import type { StrandLimits } from '../strand/strand-limits.ts';
import type { StrandAdvisory } from '../strand/trend/advisory.ts';
import { AlarmDesk } from './alarm-desk.ts';
import { courseBefore } from './course-before.ts';
import { FirmwareLog } from './firmware-log.ts';
import { Judgement, stillHolding } from './judgement.ts';
import { type LastReading, LineRooms } from './line-rooms.ts';
import { Link, type LinkSnapshot } from './link.ts';
import type { Log } from './log.ts';
import type { LastSample, RecordKeeper, RecordReader, Run, SampleColumnsReader, SampleWriter, Spool } from './ports.ts';
import { RecordGuard } from './record-guard.ts';
import { RunBook, type Whereabouts } from './run-book.ts';
import { runSettingsNow, sameRunSettings } from './run-settings.ts';
import { SectionKeeper } from './section-keeper.ts';
import { heatLimits, intakeOptions, readingKeysDiffer, strandLimits } from './settings-to-parts.ts';
import type { SteadyClock } from './steady-clock.ts';

/*
 * The way of one reading:
 *
 *   source ─ bytes ─ Link (intake) ─ Reading ─ LineRooms ─┬─ stage ─ runs and spools ───┐
 *                                                         ├─ heat ───────┐              ├─ record
 *                                                         └─ sections ───┴─ conditions ─ alarms
 *                                                                                       └─ listeners (live feed)
 * No step reaches back.
 */

export interface LineMonitorParts {
  readonly clock: SteadyClock;
  readonly log: Log;
  readonly keeper: RecordKeeper;
  readonly reader: RecordReader;
  readonly samples: SampleWriter;
  /** Reads stored readings back, for a run that is taken up; without it its trends begin anew. */
  readonly columns?: SampleColumnsReader;
  /** Write pending readings; called once a second. */
  flushSamples(nowMs: number): void;
  /** How much the disk of the record has left, in words, when that is too little; null = enough. */
  diskFilling?(): string | null;
  /** @throws Problem where the address cannot be understood or used */
  openSource(address: string): Source;
  /** What stands in for a source that was set but cannot be used: it says why. */
  unusableSource(problem: Problem): Source;
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

/** Everything there is to know about the line at this moment. */
export interface LineSnapshot {
  readonly nowMs: number;
  readonly settings: LineSettings;
  readonly link: LinkSnapshot;
  readonly stage: StageState;
  readonly run: Run | null;
  readonly spool: Spool | null;
  /** Rises when somebody says where a spool begins, or that it was changed. */
  readonly spoolsSaid: number;
  readonly last: LastReading | null;
  readonly zones: readonly ZoneStatus[];
  /** Zones whose model is known from their heat-ups. */
  readonly learntZones: readonly number[];
  /** Path from gauge to winder that the spool being wound is told by, mm. */
  readonly gaugeToWinderMm: number;
  /** Sections of the run, in order of length. */
  readonly sections: readonly Section[];
  /** Drift and surging that go on at the gauge. */
  readonly trends: readonly StrandAdvisory[];
  readonly gaugeSaturated: boolean;
  /** Those that call or called for somebody, most urgent first. */
  readonly alarms: readonly Alarm[];
  /** Those that are shelved, suppressed by design or out of service. */
  readonly resting: readonly Alarm[];
  /** Why strand or heat are not watched although lines come. */
  readonly unwatched: Unwatched;
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
const KEEP_EVERY_MS = 1000;
/** A person's "stopped" is over once the line has been at rest for so long: the next evening begins by itself. */
const REST_ENDS_STOP_MS = 60_000;
const CLOCK_STEP_MS = 2000;

/** Watches one line: carries each reading through the rooms and keeps what they find. */
export class LineMonitor {
  readonly #parts: LineMonitorParts;
  readonly #listeners = new Set<MonitorListener>();
  readonly #runs: RunBook;
  readonly #sections: SectionKeeper;
  /** Where people answer alarms. */
  readonly alarms: AlarmDesk;
  readonly #judgement = new Judgement();
  readonly #guard: RecordGuard;
  readonly #firmware: FirmwareLog;
  #settings: LineSettings;
  #strandLimits: StrandLimits;
  #heatLimits: HeatLimits;
  #rooms: LineRooms;
  /** What was learnt of the zones of this source, as it is kept. */
  #models: ReadonlyMap<number, ThermalModel>;
  #link: Link;
  #stage: StageState;
  #judgedMs = 0;
  #linkJudgedMs = 0;
  #keptMs = 0;
  #runsTriedMs = 0;
  #windsRefusedMs = Number.NEGATIVE_INFINITY;
  #restSinceMs: number | null = null;
  #toldClockStepMs = 0;
  #spoolsSaid = 0;
  #timer: NodeJS.Timeout | null = null;
  #stopped = false;
  /** Changes of the connection, one after the other. */
  #changing: Promise<void> = Promise.resolve();

  constructor(parts: LineMonitorParts) {
    const { clock, keeper, reader, log, settings } = parts;
    this.#parts = parts;
    this.#settings = settings;
    this.#strandLimits = strandLimits(settings);
    this.#heatLimits = heatLimits(settings);
    this.#guard = new RecordGuard(log);
    this.#firmware = new FirmwareLog((text) => this.#keepLog('firmware', text));
    this.#link = this.#makeLink(null);
    this.#models = keeper.loadZoneModels(this.#link.title);
    this.#rooms = new LineRooms(settings, clock.nowMs(), this.#models);
    this.#stage = this.#rooms.stage;
    this.#runs = new RunBook(keeper, settings);
    this.#sections = new SectionKeeper(keeper, reader, this.#strandLimits);
    this.alarms = new AlarmDesk({
      keeper,
      guard: this.#guard,
      runId: () => this.#runs.run?.id ?? null,
      nowMs: () => this.#nowMs(),
      limits: () => this.#settings,
      log: (who, what) => this.#keepLog(who, what),
      changed: (changes) => this.#alarmsChanged(changes),
    });
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
    this.#stopped = true;
    if (this.#timer !== null) clearInterval(this.#timer);
    this.#timer = null;
    await this.#changing;
    await this.#link.stop();
    this.#guard.attempt('sections', () => this.#sections.save());
    this.#guard.attempt('readings', () => this.#parts.samples.flush());
    this.#guard.retry(true);
  }

  subscribe(listener: MonitorListener): () => void {
    this.#listeners.add(listener);
    return () => this.#listeners.delete(listener);
  }

  snapshot(): LineSnapshot {
    const link = this.#link.snapshot();
    const alarms = this.alarms.standing();
    const resting = this.alarms.resting();
    const { run, spool } = this.#runs;
    const { last } = this.#rooms;
    const { stage } = this.#stage;
    const notWatched = unwatched({
      understood: last === null ? null : understoodIn(last.reading.layout),
      impossibleMm: this.#rooms.impossibleMm,
      nominalMm: this.#settings.nominalMm,
      noDiameterForS: this.#noDiameterForS,
    });
    const said = sentenceOfState({
      stage,
      missing: this.#stage.missing,
      unwatched: notWatched,
      alarms,
      resting,
      spoolOrdinal: spool?.ordinal ?? null,
      woundMm: spool === null ? null : this.#runs.woundMm(this.#rooms.gaugeMm),
      diameterMm: last?.diameterMm ?? null,
      strandMoves: this.#rooms.strandMoves,
      link: {
        phase: link.status.phase,
        words: link.status.words,
        silentForS: link.silentForS,
        live: link.timing === 'live',
      },
      blobOnItsWay: stage === 'winding' ? this.#nextBlob() : null,
    });
    return {
      nowMs: this.#parts.clock.nowMs(),
      settings: this.#settings,
      link,
      stage: this.#stage,
      run,
      spool,
      spoolsSaid: this.#spoolsSaid,
      last,
      zones: this.#rooms.zones,
      learntZones: [...this.#rooms.zoneModels().keys()].sort((a, b) => a - b),
      gaugeToWinderMm: this.#runs.gaugeToWinderMm,
      sections: this.#sections.effective(),
      trends: this.#sections.trends(),
      gaugeSaturated: this.#rooms.gauge.saturated,
      alarms,
      resting,
      unwatched: notWatched,
      ...said,
      meanDiameterMm: this.#sections.meanDiameterMm(),
      recordTrouble: this.#guard.trouble,
    };
  }

  /** Length on a spool: of a finished one, or of the one being wound, now. */
  woundMm(spool: Spool): number {
    if (spool.id === this.#runs.spool?.id) return this.#runs.woundMm(this.#rooms.gaugeMm);
    return Math.max(0, (spool.endGaugeMm ?? spool.startGaugeMm) - spool.startGaugeMm);
  }

  /** Measured sections of a run, those still growing included. */
  measuredSections(runId: number): readonly MeasuredSection[] {
    return this.#runs.run?.id === runId ? this.#sections.measured() : this.#parts.reader.measuredSections(runId);
  }

  /** A person spoke about sections of a run. */
  sectionsStated(runId: number): void {
    if (this.#runs.run?.id === runId) this.#sections.stated();
    this.spoolSaid();
  }

  /** What is told of a spool is other than before: open pages ask again. */
  spoolSaid(): void {
    this.#spoolsSaid += 1;
    this.#changed();
  }

  /** A person wrote something about a run or one of its spools. */
  wordsChanged(runId: number): void {
    const { run, spool } = this.#runs;
    if (run?.id !== runId) return;
    const { reader } = this.#parts;
    this.#runs.refresh(reader.run(runId), spool === null ? null : reader.spool(spool.id));
    this.#changed();
  }

  /** @param stage null = let the line's own signs decide again */
  setStage(stage: Stage | null, who: string): void {
    const timeMs = this.#nowMs();
    const what = stage === null ? 'Let the line tell its stage by itself.' : `Set the stage to ${stage}.`;
    this.#keepLog(who, what);
    this.#rooms.person(stage, timeMs);
    this.#stageIs(timeMs);
    const { run } = this.#runs;
    if (run !== null) this.#guard.write('stage', () => this.#parts.keeper.saveStageWord(run.id, stage));
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
    this.#sections.spoolBegan(this.#runs.spool?.startGaugeMm ?? 0, this.#rooms.gaugeMm);
    this.#keepLog(who, `Changed the spool. ${done.join(' ')}`);
    this.#changed();
  }

  /**
   * A person said where a spool begins.
   * @param before the spool that it was changed from without a stop: that ends there; null = none
   * @param found sections of strand that it takes along, found anew from the readings
   */
  spoolBegins(
    spool: Spool,
    before: Spool | null,
    startGaugeMm: number,
    startedMs: number,
    found: readonly MeasuredSection[],
  ): Spool {
    // First: a section that lies on no spool does no harm, strand of a spool that nobody judged would.
    if (startGaugeMm < spool.startGaugeMm)
      this.#sections.strandComes(spool.runId, startGaugeMm, spool.startGaugeMm, found);
    const moved = this.#runs.spoolBegins(spool, before, startGaugeMm, startedMs);
    this.#spoolsAreOther(spool);
    return moved;
  }

  /** A person said that the newest spool of a run was changed there. @returns the one that began there */
  spoolWasChanged(spool: Spool, atGaugeMm: number, atMs: number): Spool {
    const begun = this.#runs.spoolWasChanged(spool, atGaugeMm, atMs);
    this.#spoolsAreOther(spool);
    return begun;
  }

  /** What is followed along the spool that is being wound begins where that one does. */
  #spoolsAreOther({ runId, endGaugeMm }: Spool): void {
    const { run, spool } = this.#runs;
    this.#spoolsSaid += 1;
    if (run?.id === runId && spool !== null && endGaugeMm === null) {
      this.#guard.attempt('readings', () => this.#parts.samples.flush());
      this.#followFromStart(run, spool, this.#rooms.gaugeMm);
    }
    this.#changed();
  }

  /** Check, save and use new settings; one change at a time. @throws Problem `bad-setting` */
  applySettings(given: unknown, who: string): Promise<void> {
    const done = this.#changing.then(() => this.#applySettings(given, who));
    this.#changing = done.catch(() => {});
    return done;
  }

  async #applySettings(given: unknown, who: string): Promise<void> {
    const before = this.#settings;
    const next = checkLineSettings(given, before);
    this.alarms.checkLimits(next);
    // An address that cannot be used must be refused before anything is saved.
    const { fixedSource, openSource, keeper } = this.#parts;
    if (fixedSource === null && next.source !== before.source) within('/source', () => openSource(next.source));
    const names = (Object.keys(next) as (keyof LineSettings)[]).filter(
      (name) => JSON.stringify(next[name]) !== JSON.stringify(before[name]),
    );
    if (names.length === 0) return;
    keeper.saveLineSettings(next);
    this.#settings = next;
    this.#keepLog(who, `Changed the settings ${names.map((n) => `${n} to ${JSON.stringify(next[n])}`).join(', ')}.`);
    this.#strandLimits = strandLimits(next);
    this.#heatLimits = heatLimits(next);
    this.#sections.setLimits(this.#strandLimits);
    this.#runs.setOptions(next);
    this.#keepRunSettings();
    const otherSource = fixedSource === null && next.source !== before.source;
    if (!otherSource) this.#rooms.setSettings(next);
    if (otherSource || readingKeysDiffer(before, next)) await this.#connectAnew(otherSource);
    this.#changed();
  }

  /** Another source is another strand: its run begins anew. The same source with other reading rules goes on. */
  async #connectAnew(otherSource: boolean): Promise<void> {
    await this.#link.stop();
    if (this.#stopped) return;
    if (otherSource) this.#endRun();
    this.#link = this.#makeLink(otherSource ? null : this.#rooms.lastTimeMs);
    if (otherSource) {
      this.#models = this.#parts.keeper.loadZoneModels(this.#link.title);
      this.#beginAnew();
    }
    this.#judgement.linkMade();
    this.#link.start();
  }

  // ---- one reading ----

  #reading(reading: Reading): void {
    const { timeMs } = reading;
    const rooms = this.#rooms;
    rooms.step(reading);
    if (rooms.stage !== this.#stage || (this.#runs.isDue(rooms.stage.stage) && timeMs - this.#runsTriedMs >= 1000)) {
      this.#stageIs(timeMs);
    }
    if (rooms.winds && timeMs - this.#windsRefusedMs >= 1000) this.#winds(timeMs);
    // A replay passes many seconds between two ticks of the clock.
    if (timeMs - this.#linkJudgedMs >= 1000 && this.#link.timing === 'recorded') this.#judgeLink(timeMs);
    const { gaugeMm, diameterMm, speedMmPerS } = rooms;
    const { run } = this.#runs;
    let sectionChanged = false;
    if (run !== null) {
      this.#append(run.id, reading, gaugeMm);
      const { stage } = this.#stage;
      sectionChanged =
        stage === 'winding' || stage === 'purging'
          ? this.#sections.step(timeMs, gaugeMm, diameterMm, rooms.sampleContext)
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

  #append(runId: number, reading: Reading, gaugeMm: number): void {
    try {
      this.#parts.samples.append(runId, reading, gaugeMm);
    } catch (thrown) {
      this.#guard.failed('readings', thrown);
    }
  }

  /** Runs and spools follow the stage. */
  #stageIs(timeMs: number): void {
    const before = this.#stage;
    const next = this.#rooms.stage;
    this.#stage = next;
    this.#runsTriedMs = timeMs;
    const { run: hadRun, spool: hadSpool } = this.#runs;
    // Before the run begins, for its first spool may begin with it.
    if (hadRun === null && next.stage !== 'stopped') {
      this.#rooms.countFromZero();
      this.alarms.runBegins(timeMs);
    }
    this.#guard.attempt('runs', () => {
      const source = { title: this.#link.title, timeZone: this.#parts.timeZone };
      const done = this.#runs.stageIs(next.stage, next.byPerson, this.#whereabouts(timeMs), source);
      const runId = this.#runs.run?.id ?? hadRun?.id ?? null;
      for (const what of done) this.#keepLog('service', what, runId);
    });
    const { run, spool } = this.#runs;
    if (run !== null && run !== hadRun) {
      this.#sections.runBegan(run.id);
      this.#keepRunSettings();
    }
    if (spool !== null && spool !== hadSpool) this.#sections.spoolBegan(spool.startGaugeMm, this.#rooms.gaugeMm);
    if (spool === null && hadSpool !== null) this.#sections.spoolEnded();
    if (run === null && hadRun !== null) this.#runEnded(timeMs);
    if (before.stage !== next.stage) this.#changed();
  }

  /** While a strand is made there must be a diameter, s. */
  get #noDiameterForS(): number {
    const { stage } = this.#stage;
    return stage === 'winding' || stage === 'purging' ? this.#rooms.noDiameterForS : 0;
  }

  #whereabouts(timeMs: number): Whereabouts {
    const { gaugeMm, windingBegan } = this.#rooms;
    return { timeMs, gaugeMm, lostAtGaugeMm: this.#sections.lostAtGaugeMm(), windingBegan };
  }

  /** The winder counts turns: a spool whose beginning was guessed began where they did. */
  #winds(timeMs: number): void {
    const written = this.#guard.attempt('runs', () => {
      const done = this.#runs.winds(this.#rooms.windingBegan);
      if (done === null) return;
      this.#sections.spoolBegan(this.#runs.spool?.startGaugeMm ?? 0, this.#rooms.gaugeMm);
      this.#keepLog('service', done);
      this.#changed();
    });
    if (!written) this.#windsRefusedMs = timeMs;
  }

  #runEnded(timeMs: number): void {
    this.#guard.attempt('sections', () => this.#sections.runEnded(timeMs));
    this.#guard.attempt('readings', () => this.#parts.samples.flush());
    this.alarms.runEnded(timeMs);
  }

  /** End the run with its last reading. */
  #endRun(): void {
    const { run } = this.#runs;
    const timeMs = this.#rooms.lastTimeMs ?? this.#nowMs();
    if (run === null) return;
    this.#guard.attempt('runs', () => this.#keepLog('service', this.#runs.endRun(this.#whereabouts(timeMs)), run.id));
    this.#runEnded(timeMs);
  }

  /** Nothing of the strand before counts any more. */
  #beginAnew(): void {
    this.#rooms = new LineRooms(this.#settings, this.#parts.clock.nowMs(), this.#models);
    this.#stage = this.#rooms.stage;
    this.#judgedMs = 0;
    this.#linkJudgedMs = 0;
    this.#changed();
  }

  // ---- conditions and alarms ----

  #judge(timeMs: number): void {
    this.#judgedMs = timeMs;
    const settings = this.#settings;
    const { gauge, gaugeMm, zones, speedMmPerS, diameterMm } = this.#rooms;
    const { gaugeToWinderMm, spool } = this.#runs;
    const conditions = this.#judgement.ofReadings({
      timeMs,
      zones,
      zoneNames: settings.zoneNames,
      heatLimits: this.#heatLimits,
      standing: this.#rooms.standing,
      // The soak is wanted, and comes on top.
      charAfterMin: settings.charAfterMin + settings.soakMin,
      strandLimits: this.#strandLimits,
      underway: this.#sections.underway(winderGaugeMm(gaugeMm, gaugeToWinderMm)),
      sectionsOfRun: this.#sections.ofRun,
      spool,
      gaugeMm,
      gaugeToWinderMm,
      speedMmPerS,
      gauge: { frozen: gauge.frozen, diameterMm, forS: gauge.sameForS, missingForS: this.#noDiameterForS },
      restarts: this.#link.restarts,
    });
    this.alarms.observe(conditions, this.#stage.stage, timeMs);
  }

  #judgeLink(timeMs: number): void {
    this.#linkJudgedMs = timeMs;
    this.#link.tick(timeMs);
    const link = this.#link.state();
    const conditions = this.#judgement.ofLink(link, this.#link.quietForS(), {
      trouble: this.#guard.trouble,
      diskFilling: this.#parts.diskFilling?.() ?? null,
    });
    this.alarms.observe(conditions, this.#stage.stage, timeMs);
  }

  #alarmsChanged(changes: readonly AlarmChange[]): void {
    for (const { what, alarm } of changes) {
      this.#parts.log.info(`Alarm ${what}: ${alarm.sentence}`, { alarm: alarm.id, type: alarm.type });
    }
    for (const listener of this.#listeners) this.#tell(() => listener.alarms?.(changes));
    this.#changed();
  }

  /** The blob that reaches the winder next. */
  #nextBlob() {
    const { gaugeMm, speedMmPerS } = this.#rooms;
    const { gaugeToWinderMm, spool } = this.#runs;
    for (const section of this.#sections.underway(winderGaugeMm(gaugeMm, gaugeToWinderMm))) {
      if (section.kind !== 'blob' || section.peakMm === null) continue;
      const reachesIn = reachesWinderInS(section.fromMm, gaugeMm, gaugeToWinderMm, speedMmPerS);
      if (reachesIn === null) continue;
      const peakAtMm = section.peakAtMm ?? section.fromMm;
      const spoolMm = spool === null ? null : spoolPositionMm(peakAtMm, spool.startGaugeMm);
      return { diameterMm: section.peakMm, spoolMm, reachesWinderInS: reachesIn };
    }
    return null;
  }

  // ---- time that passes without readings ----

  #tick(): void {
    const nowMs = this.#parts.clock.nowMs();
    const quietForS = this.#link.quietForS();
    const { timing } = this.#link;
    this.#judgeLink(this.#nowMs());
    if (nowMs - this.#keptMs < KEEP_EVERY_MS) return;
    this.#keptMs = nowMs;
    const written = this.#guard.attempt('readings', () => this.#parts.flushSamples(nowMs));
    const saved = this.#guard.attempt('sections', () => this.#sections.save());
    this.#guard.retry(written && saved);
    this.#keepModels(nowMs);
    if (timing === 'live') this.#endWhenSilent(quietForS);
    this.#endStopWhenAtRest(nowMs, quietForS);
    this.#watchClock();
  }

  /** The board was switched off at the end of the evening: no reading comes that could end the run. */
  #endWhenSilent(quietForS: number): void {
    if (quietForS < this.#settings.stopAfterMin * 60) return;
    if (this.#runs.run !== null) {
      this.#keepLog(
        'service',
        `No reading line for ${this.#settings.stopAfterMin} min: the run ends with its last one.`,
      );
      this.#endRun();
    }
    // What comes after so long a silence is another evening: no strand is bridged over it.
    if (this.#rooms.lastTimeMs !== null) this.#beginAnew();
  }

  #keepModels(nowMs: number): void {
    const models = this.#rooms.zoneModels();
    if (![...models].some(([zone, model]) => this.#models.get(zone) !== model)) return;
    this.#models = models;
    const { title } = this.#link;
    this.#guard.write('zone models', () => this.#parts.keeper.saveZoneModels(title, models, nowMs));
  }

  /** Where each zone's reading was expected over the last ten minutes. */
  expectedPast(): ReadonlyMap<number, readonly ExpectedThen[]> {
    return this.#rooms.expectedPast();
  }

  /** The line was rebuilt: what its zones had taught counts no more. */
  forgetZoneModels(who: string): void {
    this.#models = new Map();
    this.#rooms.forgetZoneModels();
    const { title } = this.#link;
    this.#guard.write('zone models', () => this.#parts.keeper.saveZoneModels(title, new Map(), this.#nowMs()));
    this.#keepLog(who, 'Forgot what was learnt of the zones; the next heat-ups teach it anew.');
    this.#changed();
  }

  #endStopWhenAtRest(nowMs: number, quietForS: number): void {
    const word = this.#stage.byPerson && this.#stage.stage === 'stopped';
    if (!word || !(this.#rooms.atRest || quietForS * 1000 > REST_ENDS_STOP_MS)) {
      this.#restSinceMs = null;
      return;
    }
    this.#restSinceMs ??= nowMs;
    if (nowMs - this.#restSinceMs < REST_ENDS_STOP_MS) return;
    this.#restSinceMs = null;
    this.#keepLog('service', 'The line has come to rest: it tells its stage by itself again.');
    this.#rooms.person(null, this.#nowMs());
    this.#stageIs(this.#nowMs());
  }

  /** The wall clock was set (by NTP, by a person) or the machine slept. Readings keep their order; the next run is dated right. */
  #watchClock(): void {
    const { clock } = this.#parts;
    const stepMs = clock.behindWallMs();
    if (Math.abs(stepMs) < CLOCK_STEP_MS) {
      this.#toldClockStepMs = 0;
      return;
    }
    if (this.#runs.run === null) {
      clock.anchor();
      this.#beginAnew();
      this.#keepLog('service', `The clock of this machine was set by ${seconds(stepMs)}; times follow it from now on.`);
    } else if (Math.abs(stepMs - this.#toldClockStepMs) > CLOCK_STEP_MS) {
      this.#toldClockStepMs = stepMs;
      this.#keepLog('service', `The clock of this machine was set by ${seconds(stepMs)}; this run keeps its own time.`);
    }
  }

  /** In a replay time is what the readings say. */
  #nowMs(): number {
    const { lastTimeMs } = this.#rooms;
    return this.#link.timing === 'recorded' && lastTimeMs !== null ? lastTimeMs : this.#parts.clock.nowMs();
  }

  // ---- start, and going on after a stop ----

  #makeLink(notBeforeMs: number | null): Link {
    const { clock, log } = this.#parts;
    const source = this.#openSource();
    const nowMs = () => clock.nowMs();
    return new Link(source, intakeOptions(this.#settings, nowMs(), notBeforeMs, source.recorded), nowMs, log, {
      reading: (reading) => this.#reading(reading),
      note: ({ text, timeMs }) => this.#firmware.note(text, timeMs),
      status: (status) => {
        log.info(status.words, { source: source.title });
        if (status.phase === 'ended') this.#sourceEnded();
        this.#changed();
      },
    });
  }

  #openSource(): Source {
    const { openSource, unusableSource, fixedSource, log } = this.#parts;
    try {
      return openSource(fixedSource ?? this.#settings.source);
    } catch (thrown) {
      if (!(thrown instanceof Problem) || fixedSource !== null) throw thrown;
      log.error(`${thrown.message} ${thrown.remedy}`);
      return unusableSource(thrown);
    }
  }

  /** A recording has come to its end: so has its run. */
  #sourceEnded(): void {
    this.#endRun();
    this.#beginAnew();
  }

  /**
   * The service was stopped in the middle of a run. A live line goes on with it, if it was not long ago; the strand that
   * passed meanwhile is unknown. A recording or a simulation begins anew, and so does its run.
   */
  #takeUpUnfinished(): void {
    const found = this.#parts.keeper.unfinishedRun();
    if (found === null) return;
    const { run, spool, last, stageWord } = found;
    const nowMs = this.#parts.clock.nowMs();
    const recent = last !== null && nowMs - last.timeMs < this.#settings.stopAfterMin * 60_000 && nowMs > last.timeMs;
    const same = this.#link.timing === 'live' && this.#link.title === run.sourceTitle && this.#link.resumable;
    if (!recent || !same) {
      this.#sections.closeOpen(run.id);
      this.#runs.closeUnfinished(run, spool, last);
      this.alarms.runEnded(Math.max(nowMs, last?.timeMs ?? 0));
      this.#parts.log.info(`Run ${run.id} was not ended when the service stopped; it ends with its last reading.`);
      return;
    }
    this.#runs.resume(run, this.#parts.reader.spools(run.id));
    this.#rooms.resume(stageWord ?? (spool === null ? 'heating' : 'winding'), stageWord !== null, last);
    this.#stage = this.#rooms.stage;
    const winderMm = winderGaugeMm(last.gaugeMm, this.#runs.gaugeToWinderMm);
    this.#sections.resume(run.id, last.gaugeMm, winderMm, spool !== null);
    this.#keepLog('service', `Went on with run ${run.id} after the service was stopped.`);
    this.#keepRunSettings();
    this.#takeUpStrand(run, spool, last);
  }

  /** What was known of the strand when the service stopped. */
  #takeUpStrand(run: Run, spool: Spool | null, last: LastSample): void {
    const { gaugeToWinderMm } = this.#runs;
    const strand = {
      strandLimits: this.#strandLimits,
      underway: this.#sections.underway(winderGaugeMm(last.gaugeMm, gaugeToWinderMm)),
      sectionsOfRun: run.id,
      spool,
      gaugeMm: last.gaugeMm,
      gaugeToWinderMm,
      speedMmPerS: this.#rooms.speedMmPerS,
    };
    this.alarms.observe(stillHolding(strand), this.#stage.stage, last.timeMs);
    if (spool !== null) this.#followFromStart(run, spool, last.gaugeMm);
  }

  /** Mean and trends along a spool of which so much has passed the gauge, from the stored readings; what comes meanwhile comes behind. */
  #followFromStart(run: Run, spool: Spool, gaugeMm: number): void {
    const { columns, log } = this.#parts;
    if (columns === undefined) return;
    const course = this.#sections.awaitCourse();
    const fromGaugeMm = spool.startGaugeMm + this.#runs.gaugeToWinderMm;
    const stretch = { runId: run.id, fromGaugeMm, toGaugeMm: gaugeMm };
    const unwanted = () => this.#stopped || course.unwanted();
    courseBefore(columns, stretch, this.#strandLimits, unwanted).then(
      (before) => {
        if (before !== null) course.take(before);
      },
      (thrown: unknown) => {
        course.giveUp();
        if (!this.#stopped) log.warn('The trends of the spool begin anew', { why: messageOf(thrown) });
      },
    );
  }

  /** What the run under way is judged by from here on, so that it can be told when the settings are others. */
  #keepRunSettings(): void {
    const { run } = this.#runs;
    if (run === null) return;
    const { keeper, reader } = this.#parts;
    const before = reader.runSettings(run.id).at(-1);
    const now = runSettingsNow(this.#settings, before === undefined ? 0 : this.#rooms.gaugeMm);
    if (before !== undefined && sameRunSettings(before, now)) return;
    this.#guard.write('settings of the run', () => keeper.addRunSettings(run.id, now));
  }

  #keepLog(who: string, what: string, runId = this.#runs.run?.id ?? null): void {
    this.#parts.log.info(what, { who });
    const entry = { timeMs: this.#nowMs(), runId, who, what };
    this.#guard.write('log', () => this.#parts.keeper.log(entry));
  }

  // ---- listeners ----

  #changed(): void {
    for (const listener of this.#listeners) this.#tell(() => listener.changed?.());
  }

  /** A listener that fails must not harm its neighbour. */
  #tell(call: () => void): void {
    try {
      call();
    } catch (thrown) {
      this.#listenerFailed(thrown);
    }
  }

  #listenerFailed(thrown: unknown): void {
    this.#parts.log.error('A listener of the monitor failed', { why: messageOf(thrown) });
  }
}

const seconds = (ms: number): string => `${(ms / 1000).toFixed(0)} s`;
