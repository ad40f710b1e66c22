import type { Spool } from '../entities/spool.ts';
import type { ExpectedThen } from '../heat/expected-past.ts';
import { Problem } from '../problem/problem.ts';
import type { LineSettings } from '../settings/line-settings.ts';
import type { Stage } from '../stage/stage.ts';
import type { MeasuredSection } from '../strand/section.ts';
import type { AlarmService } from './alarm-service.ts';
import { type Incoming, incoming } from './incoming.ts';
import { isOver, type LifeEvent, type LifeState, nextLife } from './line/life-cycle.ts';
import type { LineMonitorParts } from './line/line-monitor-parts.ts';
import { type LineSnapshot, lineSnapshot } from './line/line-snapshot.ts';
import { Listeners, type MonitorListener } from './line/listeners.ts';
import { type OpenLine, openLine } from './line/open-line.ts';
import { resumeUnfinishedRun } from './line/resume-run.ts';
import { SettingsInForce, withLimits } from './line/settings-in-force.ts';
import type { PipelineProgress } from './pipeline-watch.ts';

export type { LineSnapshot } from './line/line-snapshot.ts';

const TICK_EVERY_MS = 200;

/** Creates a monitor. Neither record nor source is touched before `open`. */
export function createLineMonitor(parts: LineMonitorParts): LineMonitor {
  const settings = new SettingsInForce(withLimits(parts.settings), parts.recovered);
  return new LineMonitor(parts, new Listeners(parts.log), settings);
}

/**
 * Watches one line. The parts in `line/` do the work; `line/reading-path.ts` shows the path of a reading through them.
 */
export class LineMonitor {
  readonly #parts: LineMonitorParts;
  readonly #listeners: Listeners;
  readonly #settings: SettingsInForce;
  #life: LifeState = { is: 'made' };
  #opened: OpenLine | null = null;
  #timer: NodeJS.Timeout | undefined;
  #ending: Promise<void> = Promise.resolve();

  constructor(parts: LineMonitorParts, listeners: Listeners, settings: SettingsInForce) {
    this.#parts = parts;
    this.#listeners = listeners;
    this.#settings = settings;
  }

  // ---- life cycle ----

  /**
   * Reads the line's state from the record and resumes its run, or ends it. From here on requests are answered, although the line is not watched yet.
   * @throws Problem if the source address from the command line cannot be used
   */
  open(): void {
    const life = nextLife(this.#life, 'open');
    if (life === null) throw new TypeError(`The monitor cannot be opened: it is ${this.#life.is}.`);
    this.#opened = openLine(this.#parts, {
      settings: this.#settings,
      listeners: this.#listeners,
      life: (event) => this.#applyEvent(event),
      isOver: () => isOver(this.#life),
    });
    this.#life = life;
    // Before the first request: a stage that a user states belongs to the run that goes on, or starts the next one.
    const line = this.#opened;
    resumeUnfinishedRun(line.resumeParts);
  }

  /** Starts watching; opens the monitor first if necessary. */
  start(): void {
    if (this.#life.is === 'made') this.open();
    const life = this.#applyEvent('start');
    if (life === null) throw new TypeError(`The monitor cannot be started: it is ${this.#life.is}.`);
    const line = this.#line;
    // While the link is being replaced, the new one is started when it is ready.
    if (life.is === 'watching') line.connection.link.start();
    line.changes.awaitSource();
    this.#timer = setInterval(() => line.periodicTasks.tick(), TICK_EVERY_MS);
  }

  /** Stops watching. The current run stays open and is resumed at the next start. */
  stop(): Promise<void> {
    if (this.#applyEvent('stop') !== null) this.#ending = this.#end();
    return this.#ending;
  }

  async #end(): Promise<void> {
    clearInterval(this.#timer);
    if (this.#opened === null) return;
    const { changes, connection, guard, follower } = this.#opened;
    await changes.settled();
    await connection.link.stop();
    guard.attempt('sections', () => follower.sections.save());
    guard.attempt('readings', () => this.#parts.samples.flush());
    guard.retry(true);
    this.#applyEvent('end');
  }

  #applyEvent(event: LifeEvent): LifeState | null {
    const next = nextLife(this.#life, event);
    if (next !== null) this.#life = next;
    return next;
  }

  get #line(): OpenLine {
    if (this.#opened === null) throw new TypeError('The monitor has not been opened. Call open() or start() first.');
    return this.#opened;
  }

  // ---- state of the line ----

  subscribe(listener: MonitorListener): () => void {
    return this.#listeners.add(listener);
  }

  snapshot(): LineSnapshot {
    return lineSnapshot(this.#line);
  }

  get progress(): PipelineProgress {
    const { connection, periodicTasks } = this.#line;
    return { ...connection.link.lines, secondsDone: periodicTasks.secondsDone };
  }

  /** What the line sends, and what each field means. */
  incoming(): Incoming {
    return incoming(this.#line.connection.link.contents(), this.settings);
  }

  /**
   * Release the port to another program, such as one that flashes the board. Resolves when it is closed.
   * @throws Problem `wrong-state` if the source holds none
   */
  async releasePort(forS: number, who: string): Promise<void> {
    const { connection, log } = this.#line;
    const closed = connection.link.release(forS * 1000);
    if (closed === null) throw noPort(connection.link.title);
    log.write(who, `Released the port for ${forS} s.`);
    await closed;
  }

  /** Use a released port again now. @throws Problem `wrong-state` if the source holds none */
  resumePort(who: string): void {
    const { connection, log } = this.#line;
    const wasReleased = connection.link.state().status.phase === 'released';
    if (!connection.link.resume()) throw noPort(connection.link.title);
    if (wasReleased) log.write(who, 'Took the port back.');
  }

  get alarms(): AlarmService {
    return this.#line.alarms;
  }

  /** Where a spool ends, or where the winder is on the spool being wound. */
  endGaugeMm(spool: Spool): number {
    const { runTracker, winderMm } = this.#line.follower;
    const endMm = spool.id === runTracker.spool?.id ? winderMm : (spool.endGaugeMm ?? spool.startGaugeMm);
    return Math.max(spool.startGaugeMm, endMm);
  }

  /** Length on a spool of the current run as counted, without what was cut out. */
  woundMm(spool: Spool): number {
    return this.#line.follower.spoolPositionMm(spool, this.endGaugeMm(spool));
  }

  /** Measured sections of a run, open ones included. */
  measuredSections(runId: number): readonly MeasuredSection[] {
    const { runTracker, sections } = this.#line.follower;
    return runTracker.run?.id === runId ? sections.measured() : this.#parts.reader.measuredSections(runId);
  }

  // ---- settings ----

  get settings(): LineSettings {
    return this.#settings.line;
  }

  /** Checks, saves and applies new settings, one change at a time. @throws Problem `bad-setting` */
  applySettings(input: unknown, who: string): Promise<void> {
    return this.#line.changes.apply(input, who);
  }

  // ---- zones ----

  /** The expected temperatures of each zone over the last ten minutes. */
  expectedPast(): ReadonlyMap<number, readonly ExpectedThen[]> {
    return this.#line.follower.lineTracker.expectedPast();
  }

  /** For a line that was rebuilt: thermal models are learnt again. @throws RecordFailing */
  forgetZoneModels(who: string): void {
    const { zones, follower, connection, log } = this.#line;
    log.writeNow(who, 'Deleted the thermal models of the zones. The next heat-ups will teach new ones.', () =>
      zones.forget(connection.link.title, follower.nowMs()),
    );
    follower.lineTracker.forgetZoneModels();
    this.#listeners.changed();
  }

  // ---- statements of users ----

  /** @param stage null = determine the stage automatically again */
  setStage(stage: Stage | null, who: string): void {
    this.#line.userStatements.setStage(stage, who);
  }

  /** @throws Problem `wrong-state` if no spool is being wound */
  changeSpool(who: string): void {
    this.#line.userStatements.changeSpool(who);
  }

  /** The winder's turns started again, but the spool was not changed. */
  dismissSpoolChange(who: string): void {
    this.#line.userStatements.dismissSpoolChange(who);
  }

  /** The strand goes on the spool that ended last in this run. @throws Problem `wrong-state` if it cannot */
  continueSpool(who: string): void {
    this.#line.userStatements.continueSpool(who);
  }

  /**
   * A user stated where a spool starts.
   * @param previous the spool it was changed from without a stop, which then ends there; null = none
   * @param found sections found again in the readings of strand that is added to the spool
   */
  moveSpoolStart(
    spool: Spool,
    previous: Spool | null,
    startGaugeMm: number,
    startedMs: number,
    found: readonly MeasuredSection[],
  ): Spool {
    return this.#line.userStatements.moveSpoolStart(spool, previous, startGaugeMm, startedMs, found);
  }

  /** A user stated that the newest spool of a run was changed there. @returns the spool that started there */
  splitSpool(spool: Spool, atGaugeMm: number, atMs: number): Spool {
    return this.#line.userStatements.splitSpool(spool, atGaugeMm, atMs);
  }

  /** Call after statements about sections of a run were saved. */
  sectionsChanged(runId: number): void {
    this.#line.userStatements.sectionsChanged(runId);
  }

  /** Call after anything shown of a spool has changed; open pages then load it again. */
  spoolChanged(): void {
    this.#line.userStatements.spoolChanged();
  }

  /** Call after a note or material of a run or of one of its spools was saved. */
  notesChanged(runId: number): void {
    this.#line.userStatements.notesChanged(runId);
  }
}

function noPort(title: string): Problem {
  return new Problem(
    'wrong-state',
    `The source (${title}) holds no port that another program could need.`,
    'Only a serial port or a network connection can be released.',
  );
}
