import { lastReportedSection } from '../../alarm/conditions.ts';
import type { Run } from '../../entities/run.ts';
import type { Spool } from '../../entities/spool.ts';
import type { AlarmService } from '../alarm-service.ts';
import type { MonotonicClock } from '../clock.ts';
import type { Log } from '../log.ts';
import type { RecordWriter } from '../ports/record.ts';
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
  const { clock, log, writer, settings, follower, alarms } = parts;
  const unfinished = writer.unfinishedRun();
  if (unfinished === null) return;
  const { run, spool, last, statedStage } = unfinished;
  const nowMs = clock.nowMs();
  const stopAfterMs = settings.line.stopAfterMin * 60_000;
  const withinMs = Math.max(stopAfterMs, RESUMED_WITHIN_MS);
  const recent = last !== null && nowMs - last.timeMs < withinMs && nowMs > last.timeMs;
  if (!recent || !isSameLine(parts.connection, run)) {
    follower.sections.closeOpen(run.id);
    follower.runTracker.closeUnfinished(run, spool, last);
    alarms.runEnded(Math.max(nowMs, last?.timeMs ?? 0));
    log.info(`Run ${run.id} had not ended when the service stopped. Ended it at its last reading.`);
    return;
  }
  const stage = statedStage ?? (spool === null ? 'heating' : 'winding');
  const reported = lastReportedSection([...alarms.standing(), ...alarms.suppressed()], run.id);
  follower.resume(run, { stage, setByUser: statedStage !== null }, last, reported);
  parts.lineLog.write('service', `Resumed run ${run.id} after a restart of the service.`);
  follower.saveRunSettings();
  resumeStrand(parts, run, last);
}

function isSameLine({ link }: Connection, run: Run): boolean {
  return link.timing === 'live' && link.title === run.sourceTitle && link.resumable;
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
