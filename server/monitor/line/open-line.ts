import { AlarmService } from '../alarm-service.ts';
import { FirmwareLog } from '../firmware-log.ts';
import type { LinkListener } from '../link.ts';
import { RecordGuard } from '../record-guard.ts';
import { ConditionChecker } from './condition-checker.ts';
import { Connection, makeLink } from './connection.ts';
import { EachSecond } from './each-second.ts';
import type { LifeEvent, LifeState } from './life-cycle.ts';
import { LineLog } from './line-log.ts';
import type { LineMonitorParts } from './line-monitor-parts.ts';
import type { Listeners } from './listeners.ts';
import { ReadingPath } from './reading-path.ts';
import { RunFollower } from './run-follower.ts';
import { SettingsChange } from './settings-change.ts';
import type { SettingsInForce } from './settings-in-force.ts';
import { SpoolCourse } from './spool-course.ts';
import { StatedByPeople } from './user-statements.ts';
import { ZoneMemory } from './zone-memory.ts';

/** The parts of the line as the monitor works with them. */
export type OpenLine = ReturnType<typeof openLine>;

export interface LineOwner {
  readonly settings: SettingsInForce;
  readonly listeners: Listeners;
  /** Takes the monitor's life on by one event. @returns its state then; null = the event is not possible */
  life(event: LifeEvent): LifeState | null;
  /** The monitor is being stopped. */
  isOver(): boolean;
}

/**
 * Puts the parts together and reads from the record what they go on with. Nothing is started.
 * @throws Problem where the address given at start cannot be used
 */
export function openLine(given: LineMonitorParts, { settings, listeners, life, isOver }: LineOwner) {
  const { clock, writer, reader, samples, columns } = given;
  const guard = new RecordGuard(given.log);
  const zones = new ZoneMemory(writer, guard);
  const log = new LineLog({
    writer,
    guard,
    log: given.log,
    nowMs: () => follower.nowMs(),
    runId: () => follower.runs.run?.id ?? null,
  });
  const alarms = new AlarmService({
    writer,
    guard,
    runId: () => follower.runs.run?.id ?? null,
    nowMs: () => follower.nowMs(),
    limits: () => settings.line,
    log: (who, what) => log.write(who, what),
    changed: (changes) => {
      for (const { what, alarm } of changes) {
        given.log.info(`Alarm ${what}: ${alarm.sentence}`, { alarm: alarm.id, type: alarm.type });
      }
      listeners.alarms(changes);
      listeners.changed();
    },
  });
  const firmware = new FirmwareLog((text) => log.write('firmware', text));
  const listener: LinkListener = {
    reading: (reading) => path.take(reading),
    note: ({ text, timeMs }) => firmware.note(text, timeMs),
    status: ({ phase }) => {
      // A recording has come to its end, and so has its run.
      if (phase === 'ended') {
        follower.endRun();
        follower.beginAnew();
      }
      listeners.changed();
    },
  };
  const source = { ...given, settings, listener };
  const connection = new Connection(source, makeLink(source, null));
  zones.load(connection.link.title);
  const shared = { ...given, settings, listeners, guard, zones, alarms, connection };
  const follower: RunFollower = new RunFollower({ ...shared, log });
  alarms.open();
  const judge = new ConditionChecker({ ...shared, follower, diskFilling: () => given.diskFilling?.() ?? null });
  const path: ReadingPath = new ReadingPath({ connection, follower, judge, listeners });
  const course = new SpoolCourse({ columns, log: given.log, settings, follower, isOver });
  const people = new StatedByPeople({ writer, reader, samples, guard, follower, judge, course, log, listeners });
  const changes = new SettingsChange({ ...shared, follower, judge, log, life });
  const seconds = new EachSecond({
    ...shared,
    follower,
    judge,
    log,
    flushSamples: (nowMs) => given.flushSamples(nowMs),
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
    course,
    people,
    changes,
    seconds,
  };
}
