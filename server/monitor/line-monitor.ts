import type { Spool } from '../entities/spool.ts';
import type { ExpectedThen } from '../heat/expected-past.ts';
import { type Incoming, incoming } from './incoming.ts';
import type { LineSettings } from '../settings/line-settings.ts';
import type { Stage } from '../stage/stage.ts';
import type { MeasuredSection } from '../strand/section.ts';
import type { AlarmService } from './alarm-service.ts';
import { isOver, type LifeEvent, type LifeState, nextLife } from './line/life-cycle.ts';
import type { LineMonitorParts } from './line/line-monitor-parts.ts';
import { type LineSnapshot, lineSnapshot } from './line/line-snapshot.ts';
import { Listeners, type MonitorListener } from './line/listeners.ts';
import { type OpenLine, openLine } from './line/open-line.ts';
import { takeUpUnfinished } from './line/resuming.ts';
import { SettingsInForce } from './line/settings-in-force.ts';

export type { LineSnapshot } from './line/line-snapshot.ts';

const TICK_EVERY_MS = 200;

/**
 * Watches one line. This is its face for the rest of the service; the work is done by the parts in `line/`, and the way of
 * a reading through them is drawn in `line/reading-path.ts`.
 */
export class LineMonitor {
  readonly #parts: LineMonitorParts;
  readonly #listeners: Listeners;
  readonly #settings: SettingsInForce;
  #life: LifeState = { is: 'made' };
  #opened: OpenLine | null = null;
  #timer: NodeJS.Timeout | undefined;
  #ending: Promise<void> = Promise.resolve();

  constructor(parts: LineMonitorParts) {
    this.#parts = parts;
    this.#listeners = new Listeners(parts.log);
    this.#settings = new SettingsInForce(parts.settings);
  }

  // ---- life cycle ----

  /**
   * Reads what the record knows of the line. From here on people are answered, before the line is watched.
   * @throws Problem where the address given at start cannot be used
   */
  open(): void {
    const life = nextLife(this.#life, 'open');
    if (life === null) throw new TypeError(`The monitor cannot be opened: it is ${this.#life.is}.`);
    this.#opened = openLine(this.#parts, {
      settings: this.#settings,
      listeners: this.#listeners,
      life: (event) => this.#takeEvent(event),
      isOver: () => isOver(this.#life),
    });
    this.#life = life;
  }

  /** Begins to watch; opens the monitor first if nobody has. */
  start(): void {
    if (this.#life.is === 'made') this.open();
    const life = this.#takeEvent('start');
    if (life === null) throw new TypeError(`The monitor cannot be started: it is ${this.#life.is}.`);
    const line = this.#line;
    takeUpUnfinished({ ...this.#parts, ...line, log: this.#parts.log, lineLog: line.log });
    // While it changes to another link, that one is started as soon as it is there.
    if (life.is === 'watching') line.connection.link.start();
    this.#timer = setInterval(() => line.seconds.tick(), TICK_EVERY_MS);
  }

  /** Stops watching. A run that is under way stays open and is taken up at the next start. */
  stop(): Promise<void> {
    if (this.#takeEvent('stop') !== null) this.#ending = this.#end();
    return this.#ending;
  }

  async #end(): Promise<void> {
    clearInterval(this.#timer);
    // It was never opened.
    if (this.#opened === null) return;
    const { changes, connection, guard, follower } = this.#opened;
    await changes.settled();
    await connection.link.stop();
    guard.attempt('sections', () => follower.sections.save());
    guard.attempt('readings', () => this.#parts.samples.flush());
    guard.retry(true);
    this.#takeEvent('end');
  }

  #takeEvent(event: LifeEvent): LifeState | null {
    const next = nextLife(this.#life, event);
    if (next !== null) this.#life = next;
    return next;
  }

  get #line(): OpenLine {
    if (this.#opened === null) throw new TypeError('The monitor has not been opened. Call open() or start() first.');
    return this.#opened;
  }

  // ---- what the line does ----

  subscribe(listener: MonitorListener): () => void {
    return this.#listeners.add(listener);
  }

  snapshot(): LineSnapshot {
    return lineSnapshot(this.#line);
  }

  /** What the line sends, and what it is taken for. */
  incoming(): Incoming {
    return incoming(this.#line.connection.link.contents(), this.settings);
  }

  /** Where people answer alarms. */
  get alarms(): AlarmService {
    return this.#line.alarms;
  }

  /** Length on a spool: of a finished one, or of the one being wound, now. */
  woundMm(spool: Spool): number {
    const { runs, trackers } = this.#line.follower;
    if (spool.id === runs.spool?.id) return runs.woundMm(trackers.gaugeMm);
    return Math.max(0, (spool.endGaugeMm ?? spool.startGaugeMm) - spool.startGaugeMm);
  }

  /** Measured sections of a run, those still growing included. */
  measuredSections(runId: number): readonly MeasuredSection[] {
    const { runs, sections } = this.#line.follower;
    return runs.run?.id === runId ? sections.measured() : this.#parts.reader.measuredSections(runId);
  }

  // ---- settings ----

  get settings(): LineSettings {
    return this.#settings.line;
  }

  /** Check, save and use new settings; one change at a time. @throws Problem `bad-setting` */
  applySettings(given: unknown, who: string): Promise<void> {
    return this.#line.changes.apply(given, who);
  }

  // ---- zones ----

  /** Where each zone's reading was expected over the last ten minutes. */
  expectedPast(): ReadonlyMap<number, readonly ExpectedThen[]> {
    return this.#line.follower.trackers.expectedPast();
  }

  /** The line was rebuilt: what its zones have taught no longer counts. */
  forgetZoneModels(who: string): void {
    const { zones, follower, connection, log } = this.#line;
    follower.trackers.forgetZoneModels();
    zones.forget(connection.link.title, follower.nowMs());
    log.write(who, 'Forgot what was learnt of the zones; the next heat-ups teach it anew.');
    this.#listeners.changed();
  }

  // ---- what people state ----

  /** @param stage null = let the line's own signs decide again */
  setStage(stage: Stage | null, who: string): void {
    this.#line.people.setStage(stage, who);
  }

  /** @throws Problem `wrong-state` where no spool is being wound */
  changeSpool(who: string): void {
    this.#line.people.changeSpool(who);
  }

  /**
   * Somebody stated where a spool starts.
   * @param before the spool that it was changed from without a stop: that ends there; null = none
   * @param found sections of strand that is added to it, found again from the readings
   */
  spoolBegins(
    spool: Spool,
    before: Spool | null,
    startGaugeMm: number,
    startedMs: number,
    found: readonly MeasuredSection[],
  ): Spool {
    return this.#line.people.spoolBegins(spool, before, startGaugeMm, startedMs, found);
  }

  /** Somebody stated that the newest spool of a run was changed there. @returns the one that started there */
  spoolWasChanged(spool: Spool, atGaugeMm: number, atMs: number): Spool {
    return this.#line.people.spoolWasChanged(spool, atGaugeMm, atMs);
  }

  /** Somebody stated something about sections of a run. */
  sectionsStated(runId: number): void {
    this.#line.people.sectionsStated(runId);
  }

  /** What is shown of a spool is different now: open pages ask again. */
  spoolSaid(): void {
    this.#line.people.spoolSaid();
  }

  /** Somebody wrote something about a run or one of its spools. */
  statementsChanged(runId: number): void {
    this.#line.people.statementsChanged(runId);
  }
}
