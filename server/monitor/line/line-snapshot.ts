import type { Alarm } from '../../alarm/alarm.ts';
import { type Severity, sentenceOfState } from '../../alarm/sentence-of-state.ts';
import { type Unwatched, unwatched } from '../../alarm/unwatched.ts';
import type { Run } from '../../entities/run.ts';
import type { Spool } from '../../entities/spool.ts';
import type { ZoneStatus } from '../../heat/zone-status.ts';
import { understoodIn } from '../../reading/understood.ts';
import type { LineSettings } from '../../settings/line-settings.ts';
import type { StageState } from '../../stage/stage-tracker.ts';
import { reachesWinderInS, spoolPositionMm } from '../../strand/position.ts';
import type { Section } from '../../strand/section.ts';
import type { StrandAdvisory } from '../../strand/trend/advisory.ts';
import type { AlarmService } from '../alarm-service.ts';
import type { LastReading } from '../line-trackers.ts';
import type { LinkSnapshot } from '../link.ts';
import type { RecordGuard } from '../record-guard.ts';
import type { SteadyClock } from '../steady-clock.ts';
import type { Connection } from './connection.ts';
import type { RunFollower } from './run-follower.ts';
import type { SettingsInForce } from './settings-in-force.ts';
import type { StatedByPeople } from './user-statements.ts';

/** Everything there is to know about the line at this moment. */
export interface LineSnapshot {
  readonly nowMs: number;
  readonly settings: LineSettings;
  readonly link: LinkSnapshot;
  readonly stage: StageState;
  readonly run: Run | null;
  readonly spool: Spool | null;
  /** Rises when somebody states where a spool starts, or that it was changed. */
  readonly spoolBoundsRevision: number;
  readonly last: LastReading | null;
  readonly zones: readonly ZoneStatus[];
  /** Zones whose model is known from their heat-ups. */
  readonly learntZones: readonly number[];
  /** Path from gauge to winder by which positions on the spool being wound are given, mm. */
  readonly gaugeToWinderMm: number;
  /** Sections of the run, in order of length. */
  readonly sections: readonly Section[];
  /** Drift and surging that go on at the gauge. */
  readonly trends: readonly StrandAdvisory[];
  readonly gaugeSaturated: boolean;
  /** Those that call or called for somebody, most urgent first. */
  readonly alarms: readonly Alarm[];
  /** Those that are shelved, suppressed by design or out of service. */
  readonly suppressed: readonly Alarm[];
  /** Why strand or heat are not watched although lines come. */
  readonly unwatched: Unwatched;
  readonly sentence: string;
  readonly severity: Severity;
  /** Mean diameter on the spool so far; null = none yet. */
  readonly meanDiameterMm: number | null;
  /** Why the record cannot be written; null = all is well. */
  readonly recordTrouble: string | null;
}

export interface LineSnapshotParts {
  readonly clock: SteadyClock;
  readonly settings: SettingsInForce;
  readonly connection: Connection;
  readonly follower: RunFollower;
  readonly people: StatedByPeople;
  readonly alarms: AlarmService;
  readonly guard: RecordGuard;
}

export function lineSnapshot(parts: LineSnapshotParts): LineSnapshot {
  const { clock, settings, connection, follower, people, guard } = parts;
  const { trackers, runs, sections, stage } = follower;
  const link = connection.link.snapshot();
  const alarms = parts.alarms.standing();
  const suppressed = parts.alarms.suppressed();
  const { run, spool, gaugeToWinderMm } = runs;
  const { last } = trackers;
  const notWatched = unwatched({
    understood: last === null ? null : understoodIn(last.reading.layout),
    impossibleMm: trackers.impossibleMm,
    nominalMm: settings.line.nominalMm,
    noDiameterForS: follower.noDiameterForS,
  });
  const told = sentenceOfState({
    stage: stage.stage,
    missing: stage.missing,
    unwatched: notWatched,
    alarms,
    suppressed,
    spoolOrdinal: spool?.ordinal ?? null,
    woundMm: spool === null ? null : runs.woundMm(trackers.gaugeMm),
    diameterMm: last?.diameterMm ?? null,
    strandMoves: trackers.strandMoves,
    link: {
      phase: link.status.phase,
      text: link.status.text,
      silentForS: link.silentForS,
      live: link.timing === 'live',
    },
    blobOnItsWay: stage.stage === 'winding' ? nextBlob(follower) : null,
  });
  return {
    nowMs: clock.nowMs(),
    settings: settings.line,
    link,
    stage,
    run,
    spool,
    spoolBoundsRevision: people.spoolBoundsRevision,
    last,
    zones: trackers.zones,
    learntZones: [...trackers.zoneModels().keys()].sort((a, b) => a - b),
    gaugeToWinderMm,
    sections: sections.effective(),
    trends: sections.trends(),
    gaugeSaturated: trackers.gauge.saturated,
    alarms,
    suppressed,
    unwatched: notWatched,
    ...told,
    meanDiameterMm: sections.meanDiameterMm(),
    recordTrouble: guard.trouble,
  };
}

/** The blob that reaches the winder next. */
function nextBlob(follower: RunFollower) {
  const { gaugeMm, speedMmPerS } = follower.trackers;
  const { gaugeToWinderMm, spool } = follower.runs;
  for (const section of follower.underway()) {
    if (section.kind !== 'blob' || section.peakMm === null) continue;
    const reachesIn = reachesWinderInS(section.fromMm, gaugeMm, gaugeToWinderMm, speedMmPerS);
    if (reachesIn === null) continue;
    const peakAtMm = section.peakAtMm ?? section.fromMm;
    const spoolMm = spool === null ? null : spoolPositionMm(peakAtMm, spool.startGaugeMm);
    return { diameterMm: section.peakMm, spoolMm, reachesWinderInS: reachesIn };
  }
  return null;
}
