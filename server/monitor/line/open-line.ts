import { AlarmService } from '../alarm-service.ts';
import { RecordGuard } from '../record-guard.ts';
import { ConditionChecker } from './condition-checker.ts';
import { Connection, createLink } from './connection.ts';
import type { LifeEvent, LifeState } from './life-cycle.ts';
import { FirmwareLog, LineLog } from './line-log.ts';
import type { LineMonitorParts } from './line-monitor-parts.ts';
import type { LinkListener } from './link.ts';
import type { Listeners } from './listeners.ts';
import { PeriodicTasks } from './periodic-tasks.ts';
import { ReadingPath } from './reading-path.ts';
import { createRunFollower, type RunFollower } from './run-follower.ts';
import { SettingsChange } from './settings-change.ts';
import type { SettingsInForce } from './settings-in-force.ts';
import { SpoolTrendReader } from './spool-trend-reader.ts';
import { UserStatements } from './user-statements.ts';
import { ZoneModels } from './zone-models.ts';

/** The parts of an opened line. */
export type OpenLine = ReturnType<typeof openLine>;

export interface LineOwner {
  readonly settings: SettingsInForce;
  readonly listeners: Listeners;
  /** Applies an event to the monitor's life cycle. @returns its new state; null = the event is not possible */
  life(event: LifeEvent): LifeState | null;
  /** The monitor is stopping. */
  isOver(): boolean;
}

/**
 * Creates the parts and reads their initial state from the record. Nothing is started.
 * @throws Problem if the source address from the command line cannot be used
 */
export function openLine(parts: LineMonitorParts, { settings, listeners, life, isOver }: LineOwner) {
  const { clock, writer, reader, samples, columns } = parts;
  const guard = new RecordGuard(parts.log, () => parts.writer.probe());
  const zones = new ZoneModels(writer, guard);
  const log = new LineLog({
    writer,
    guard,
    log: parts.log,
    nowMs: () => follower.nowMs(),
    runId: () => follower.runTracker.run?.id ?? null,
  });
  const alarms = new AlarmService({
    writer,
    guard,
    runId: () => follower.runTracker.run?.id ?? null,
    nowMs: () => follower.nowMs(),
    limits: () => settings.line,
    log: (who, what) => log.write(who, what),
    changed: (changes) => {
      for (const { step, alarm } of changes) {
        parts.log.info(`Alarm ${step}: ${alarm.sentence}`, { alarm: alarm.id, type: alarm.type });
      }
      listeners.alarms(changes);
      listeners.changed();
    },
  });
  const firmware = new FirmwareLog((text) => log.write('firmware', text));
  const listener: LinkListener = {
    reading: (reading) => path.take(reading),
    linesTaken: (lines) => periodicTasks.linesTaken(lines),
    note: ({ text, timeMs }) => firmware.note(text, timeMs),
    remark: (what) => log.write('service', what),
    status: ({ phase }) => {
      // The run ends with its recording.
      if (phase === 'ended') {
        follower.endRun();
        follower.startOver();
      }
      listeners.changed();
    },
  };
  const connectionParts = { ...parts, settings, listener };
  const connection = new Connection(connectionParts, createLink(connectionParts, null));
  zones.load(connection.link.title);
  const shared = { ...parts, settings, listeners, guard, zones, alarms, connection };
  const follower: RunFollower = createRunFollower({ ...shared, log });
  alarms.open();
  const conditionChecker = new ConditionChecker({
    ...shared,
    follower,
    diskFilling: () => parts.diskFilling?.() ?? null,
    recordDamage: () => parts.recordDamage?.() ?? null,
    guessing: () => parts.guessing?.() ?? [],
    clockAheadMs: () => parts.clock.wallClockAheadMs(),
  });
  const path: ReadingPath = new ReadingPath({ connection, follower, conditionChecker, listeners });
  const trendReader = new SpoolTrendReader({ columns, log: parts.log, settings, follower, isOver });
  const userStatements = new UserStatements({
    writer,
    reader,
    samples,
    guard,
    follower,
    conditionChecker,
    trendReader,
    log,
    listeners,
  });
  const resumeParts = { ...shared, follower, log: parts.log, lineLog: log, trendReader };
  const changes = new SettingsChange({ ...shared, follower, conditionChecker, log, life, resumeParts });
  const periodicTasks: PeriodicTasks = new PeriodicTasks({
    ...shared,
    follower,
    conditionChecker,
    log,
    flushSamples: (nowMs) => parts.flushSamples(nowMs),
  });
  return {
    clock,
    guard,
    zones,
    log,
    settings,
    alarms,
    connection,
    follower,
    trendReader,
    userStatements,
    changes,
    resumeParts,
    periodicTasks,
  };
}
