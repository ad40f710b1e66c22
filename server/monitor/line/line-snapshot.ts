import type { Alarm } from '../../alarm/alarm.ts';
import { strandAlarmOf } from '../../alarm/conditions.ts';
import { type BlobOnItsWay, type Headline, headline } from '../../alarm/headline.ts';
import { type Unwatched, unwatched } from '../../alarm/unwatched.ts';
import type { Run } from '../../entities/run.ts';
import type { Spool } from '../../entities/spool.ts';
import type { FaultVisibility } from '../../heat/fault-visibility.ts';
import type { ZoneStatus } from '../../heat/zone-status.ts';
import { recognisedSignals } from '../../reading/reading.ts';
import type { LineSettings } from '../../settings/line-settings.ts';
import { missingHeat } from '../../stage/stage-readiness.ts';
import type { StageState } from '../../stage/stage-tracker.ts';
import { reachesWinderInS, type Stretch } from '../../strand/position.ts';
import type { Section } from '../../strand/section.ts';
import type { StrandAdvisory } from '../../strand/trend/advisory.ts';
import type { AlarmService } from '../alarm-service.ts';
import type { MonotonicClock } from '../clock.ts';
import type { RecordGuard } from '../record-guard.ts';
import type { ProposedSpoolChange } from '../run/run-tracker.ts';
import type { Connection } from './connection.ts';
import type { LostNames } from './format-watch.ts';
import type { LastReading } from './line-tracker.ts';
import type { LinkSnapshot } from './link.ts';
import type { RunFollower } from './run-follower.ts';
import type { SettingsInForce } from './settings-in-force.ts';
import type { UserStatements } from './user-statements.ts';

/** The state of the line at one moment. */
export interface LineSnapshot {
  readonly nowMs: number;
  readonly settings: LineSettings;
  /** Settings that have their defaults because what was saved could not be used. */
  readonly settingsReset: readonly (keyof LineSettings)[];
  /** An earlier version of the settings is used, or the source is lost, as sentences; null = neither. */
  readonly settingsNotice: string | null;
  readonly link: LinkSnapshot;
  readonly stage: StageState;
  readonly run: Run | null;
  readonly spool: Spool | null;
  /** The spool that ended last in this run, if the strand made since then may go on it; else null. */
  readonly spoolToContinue: Spool | null;
  readonly proposedSpoolChange: ProposedSpoolChange | null;
  /** Increases when a user states where a spool starts or was changed, or anything else that alters how it is shown. */
  readonly spoolBoundsRevision: number;
  readonly last: LastReading | null;
  readonly zones: readonly ZoneStatus[];
  /** Zones whose thermal model has been learnt. */
  readonly learntZones: readonly number[];
  /** How soon faults of each learnt zone can be seen. */
  readonly faultVisibilities: ReadonlyMap<number, FaultVisibility>;
  /** The path by which positions on the spool being wound are calculated. */
  readonly gaugeToWinderMm: number;
  /** Jumps of the length counter that nothing supported, since the source was opened. They did not shift any position. */
  readonly lengthJumps: number;
  /** false = length counter and speed contradict each other. */
  readonly placesAreKnown: boolean;
  /** Sections of the run, in order of length. */
  readonly sections: readonly Section[];
  /** Strand of the run that users cut out before it was wound. */
  readonly cutOuts: readonly Stretch[];
  /** Drift and surging that continue at the gauge. */
  readonly trends: readonly StrandAdvisory[];
  readonly gaugeSaturated: boolean;
  readonly deadAxis: 'dx' | 'dy' | null;
  /** Unacknowledged or active alarms, most urgent first. */
  readonly alarms: readonly Alarm[];
  /** Alarms that are shelved, suppressed by design or out of service. */
  readonly suppressed: readonly Alarm[];
  /** What cannot be watched although lines arrive. */
  readonly unwatched: Unwatched;
  /** What no longer arrives under a name that is understood; null = nothing. */
  readonly lostNames: LostNames | null;
  readonly headline: Headline;
  /** Of the spool so far; null = nothing measured yet. */
  readonly meanDiameterMm: number | null;
  /** Why the record cannot be written; null = it can. */
  readonly recordTrouble: string | null;
}

export interface LineSnapshotParts {
  readonly clock: MonotonicClock;
  readonly settings: SettingsInForce;
  readonly connection: Connection;
  readonly follower: RunFollower;
  readonly userStatements: UserStatements;
  readonly alarms: AlarmService;
  readonly guard: RecordGuard;
}

export function lineSnapshot(parts: LineSnapshotParts): LineSnapshot {
  const { clock, settings, connection, follower, userStatements, guard } = parts;
  const { lineTracker, runTracker, sections, stage } = follower;
  const link = connection.link.snapshot();
  const alarms = parts.alarms.standing();
  const suppressed = parts.alarms.suppressed();
  const { run, spool, gaugeToWinderMm } = runTracker;
  const { last } = lineTracker;
  const unwatchedParts = unwatched({
    understood: last === null ? null : recognisedSignals(last.reading.layout),
    impossibleMm: lineTracker.impossibleMm,
    nominalMm: settings.line.nominalMm,
    impossibleMmPerS: lineTracker.impossibleMmPerS,
    noDiameterForS: follower.noDiameterForS,
    setSpeedMmPerS: settings.line.setSpeedMmPerS,
    lengthContradicts: lineTracker.lengthContradiction !== null,
    zoneNames: settings.line.zoneNames,
  });
  const inOneLine = headline({
    stage: stage.stage,
    missing: stage.missing,
    unwatched: unwatchedParts,
    offHeat: missingHeat(lineTracker.zones, settings.line.zoneNames),
    alarms,
    suppressed,
    spoolOrdinal: spool?.ordinal ?? null,
    woundMm: lineTracker.placesAreKnown ? follower.woundMm : null,
    strandMoves: lineTracker.strandIsMoving,
    link: {
      phase: link.status.phase,
      text: link.status.text,
      silentForS: link.silentForS,
      live: link.timing === 'live',
      isReleased: link.isReleased,
    },
    blobOnItsWay: stage.stage === 'winding' && lineTracker.placesAreKnown ? nextBlob(follower) : null,
  });
  return {
    nowMs: clock.nowMs(),
    settings: settings.line,
    settingsReset: settings.reset,
    settingsNotice: settings.notice,
    link,
    stage,
    run,
    spool,
    spoolToContinue: mayContinue(follower) ? runTracker.endedSpool : null,
    proposedSpoolChange: runTracker.proposedChange,
    spoolBoundsRevision: userStatements.spoolBoundsRevision,
    last,
    zones: lineTracker.zones,
    learntZones: [...lineTracker.zoneModels().keys()].sort((a, b) => a - b),
    faultVisibilities: lineTracker.faultVisibilities(),
    gaugeToWinderMm,
    lengthJumps: lineTracker.lengthJumps,
    placesAreKnown: lineTracker.placesAreKnown,
    sections: sections.effective(),
    cutOuts: sections.cutOuts,
    trends: sections.openTrends(),
    gaugeSaturated: lineTracker.gauge.saturated,
    deadAxis: lineTracker.deadAxis,
    alarms,
    suppressed,
    unwatched: unwatchedParts,
    lostNames: lineTracker.lostNames,
    headline: inOneLine,
    meanDiameterMm: sections.meanDiameterMm(),
    recordTrouble: guard.trouble,
  };
}

/** A new spool that may be the one from before the stop is not asked about for ever, mm. */
const ASKED_UP_TO_MM = 20_000;

function mayContinue({ stage, woundMm }: RunFollower): boolean {
  if (woundMm === null) return stage.stage === 'purging';
  return stage.stage === 'winding' && woundMm < ASKED_UP_TO_MM;
}

/** The blob that reaches the winder next, or else the possible one. */
function nextBlob(follower: RunFollower): BlobOnItsWay | null {
  const { gaugeMm, speedMmPerS } = follower.lineTracker;
  const { gaugeToWinderMm } = follower.runTracker;
  let possible: BlobOnItsWay | null = null;
  for (const section of follower.underway()) {
    const alarm = strandAlarmOf(section);
    const inDoubt = alarm === 'blobInDoubt';
    if ((alarm !== 'blob' && !inDoubt) || section.peakMm === null || (inDoubt && possible !== null)) continue;
    if (reachesWinderInS(section.fromMm, gaugeMm, gaugeToWinderMm, speedMmPerS) === null) continue;
    const blob = { diameterMm: section.peakMm, inDoubt };
    if (!inDoubt) return blob;
    possible = blob;
  }
  return possible;
}
