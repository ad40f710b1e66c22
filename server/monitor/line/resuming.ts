import type { Run } from '../../entities/run.ts';
import type { AlarmService } from '../alarm-service.ts';
import type { Log } from '../log.ts';
import type { RecordWriter } from '../ports/record.ts';
import type { LastSample } from '../ports/samples.ts';
import type { SteadyClock } from '../steady-clock.ts';
import type { Connection } from './connection.ts';
import { stillHolding } from './line-conditions.ts';
import type { LineLog } from './line-log.ts';
import type { RunFollower } from './run-follower.ts';
import type { SettingsInForce } from './settings-in-force.ts';
import type { SpoolCourse } from './spool-course.ts';

export interface TakingUpParts {
  readonly clock: SteadyClock;
  readonly log: Log;
  readonly writer: RecordWriter;
  readonly settings: SettingsInForce;
  readonly connection: Connection;
  readonly follower: RunFollower;
  readonly alarms: AlarmService;
  readonly lineLog: LineLog;
  readonly course: SpoolCourse;
}

/**
 * The service may have been stopped in the middle of a run. A live line goes on with that run if it was not long ago; the
 * strand that passed meanwhile is unknown. A recording or a simulation starts over, and so does its run.
 */
export function takeUpUnfinished(parts: TakingUpParts): void {
  const { clock, log, writer, settings, follower, alarms } = parts;
  const found = writer.unfinishedRun();
  if (found === null) return;
  const { run, spool, last, statedStage } = found;
  const nowMs = clock.nowMs();
  const stopAfterMs = settings.line.stopAfterMin * 60_000;
  const recent = last !== null && nowMs - last.timeMs < stopAfterMs && nowMs > last.timeMs;
  if (!recent || !isSameLine(parts.connection, run)) {
    follower.sections.closeOpen(run.id);
    follower.runs.closeUnfinished(run, spool, last);
    alarms.runEnded(Math.max(nowMs, last?.timeMs ?? 0));
    log.info(`Run ${run.id} was not ended when the service stopped; it ends with its last reading.`);
    return;
  }
  const stage = statedStage ?? (spool === null ? 'heating' : 'winding');
  follower.resume(run, { stage, setByUser: statedStage !== null }, last);
  parts.lineLog.write('service', `Went on with run ${run.id} after the service was stopped.`);
  follower.keepRunSettings();
  takeUpStrand(parts, run, last);
}

function isSameLine({ link }: Connection, run: Run): boolean {
  return link.timing === 'live' && link.title === run.sourceTitle && link.resumable;
}

/** What was known of the strand when the service stopped. */
function takeUpStrand(
  { settings, follower, alarms, course }: TakingUpParts,
  run: Run,
  { gaugeMm, timeMs }: LastSample,
) {
  const { spool, gaugeToWinderMm } = follower.runs;
  const strand = {
    strandLimits: settings.strandLimits,
    underway: follower.underway(),
    sectionsOfRun: run.id,
    spool,
    gaugeMm,
    gaugeToWinderMm,
    speedMmPerS: follower.trackers.speedMmPerS,
  };
  alarms.observe(stillHolding(strand), follower.stage.stage, timeMs);
  course.readFromStart(gaugeMm);
}
