import { lastReportedSection } from '../../alarm/conditions.ts';
import { isOfRealLine, type Run } from '../../entities/run.ts';
import type { Spool } from '../../entities/spool.ts';
import type { AlarmService } from '../alarm-service.ts';
import type { MonotonicClock } from '../clock.ts';
import type { Log } from '../log.ts';
import type { RecordWriter, UnfinishedRun } from '../ports/record.ts';
import type { LastSample } from '../ports/samples.ts';
import type { Connection } from './connection.ts';
import { stillHolding } from './line-conditions.ts';
import type { LineLog } from './line-log.ts';
import type { RunFollower } from './run-follower.ts';
import type { SettingsInForce } from './settings-in-force.ts';
import type { SpoolTrendReader } from './spool-trend-reader.ts';

/**
 * A machine that is updated or checks its disk may be off for a while, and the line winds on. If the line was off too, its
 * readings end the run as usual.
 */
const RESUMED_WITHIN_MS = 3_600_000;

export interface ResumeParts {
  readonly clock: MonotonicClock;
  readonly log: Log;
  readonly writer: RecordWriter;
  readonly settings: SettingsInForce;
  readonly connection: Connection;
  readonly follower: RunFollower;
  readonly alarms: AlarmService;
  readonly lineLog: LineLog;
  readonly trendReader: SpoolTrendReader;
}

/**
 * Resumes a run during which the service was stopped, if it is of the same live line and recent, however long a standstill
 * ends a run; the strand that passed in between is unknown. Otherwise the run ends at its last reading: recordings and simulations start over.
 */
export function resumeUnfinishedRun(parts: ResumeParts): void {
  const unfinished = parts.writer.unfinishedRun();
  if (unfinished === null) return;
  if (canResume(parts, unfinished)) {
    resumeRun(parts, unfinished);
    return;
  }
  const { clock, log, follower, alarms } = parts;
  const { run, spool, last } = unfinished;
  follower.sections.closeOpen(run.id);
  follower.runTracker.closeUnfinished(run, spool, last);
  alarms.runEnded(Math.max(clock.nowMs(), last?.timeMs ?? 0));
  log.info(`Run ${run.id} had not ended when the service stopped. Ended it at its last reading.`);
}

function isSameLine({ link }: Connection, run: Run): boolean {
  return link.timing === 'live' && link.title === run.sourceTitle && link.resumable;
}

/** As long as no source is chosen, it may be that of any real line. */
export function canResume({ clock, settings, connection }: ResumeParts, { run, last }: UnfinishedRun): boolean {
  const nowMs = clock.nowMs();
  const withinMs = Math.max(settings.line.stopAfterMin * 60_000, RESUMED_WITHIN_MS);
  const recent = last !== null && nowMs - last.timeMs < withinMs && nowMs > last.timeMs;
  return recent && (connection.link.isMissing ? isOfRealLine(run) : isSameLine(connection, run));
}

/** @param unfinished a run for which `canResume` */
export function resumeRun(parts: ResumeParts, { run, spool, last, statedStage }: UnfinishedRun): void {
  const { follower, alarms, connection, lineLog } = parts;
  if (last === null) return;
  const stage = statedStage ?? (spool === null ? 'heating' : 'winding');
  const reported = lastReportedSection([...alarms.standing(), ...alarms.suppressed()], run.id);
  follower.resume(run, { stage, setByUser: statedStage !== null }, last, reported);
  if (!connection.link.isMissing) lineLog.write('service', `Resumed run ${run.id} after a restart of the service.`);
  follower.saveRunSettings();
  resumeStrand(parts, run, last);
}

/** Restores strand alarms and trends. */
function resumeStrand(
  { settings, follower, alarms, trendReader }: ResumeParts,
  run: Run,
  { gaugeMm, timeMs }: LastSample,
): void {
  const { spool, gaugeToWinderMm } = follower.runTracker;
  const strand = {
    strandLimits: settings.strandLimits,
    underway: follower.underway(),
    sectionsOfRun: run.id,
    spool,
    spoolPositionMm: (on: Spool, mm: number) => follower.spoolPositionMm(on, mm),
    gaugeMm,
    gaugeToWinderMm,
    speedMmPerS: follower.lineTracker.speedMmPerS,
    placesAreKnown: follower.lineTracker.placesAreKnown,
  };
  alarms.observe(stillHolding(strand), follower.stage.stage, timeMs);
  trendReader.readFromStart(gaugeMm);
}
