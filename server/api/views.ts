import type { Alarm, Suppression } from '../alarm/alarm.ts';
import { titleOf } from '../alarm/catalogue.ts';
import { longestShelfMin } from '../alarm/shelving.ts';
import type { Run } from '../entities/run.ts';
import type { LinkSnapshot } from '../monitor/line/link.ts';
import type { Judgement } from '../monitor/spool/judgement.ts';
import { reachesWinderInS } from '../strand/position.ts';
import type { Section } from '../strand/section.ts';
import type { StrandLimits } from '../strand/strand-limits.ts';
import { verdictOfRun } from '../strand/verdict/run-verdict.ts';
import type { AlarmView } from './contract/alarms.ts';
import type { LinkView } from './contract/live-state.ts';
import type { LimitsView, RunView, SectionView, SpoolView, VerdictView } from './contract/runs-and-spools.ts';

/** Converts values of the rooms to API responses; the contract defines how many digits are sent. */

/** The line now, for countdowns. */
export interface NowAtGauge {
  readonly gaugeMm: number;
  readonly speedMmPerS: number;
  readonly gaugeToWinderMm: number;
}

/** Converts gauge lengths to positions on a spool. */
export interface SpoolFrame {
  readonly spoolId: number;
  readonly startGaugeMm: number;
  /** The outer end; null = still being wound. */
  readonly endGaugeMm: number | null;
  /** True length = this × counted length. */
  readonly lengthFactor: number;
}

export function frameOf({ on }: Judgement): SpoolFrame {
  const { startGaugeMm, endGaugeMm } = on;
  return { spoolId: on.spool.id, startGaugeMm, endGaugeMm, lengthFactor: on.scale.factor };
}

/** Clips the section to the spool; positions on the spool are true lengths. */
export function sectionView(section: Section, on: SpoolFrame | null, now: NowAtGauge | null): SectionView {
  const trueMm = (gaugeMm: number | null): number | null => {
    if (on === null || gaugeMm === null) return null;
    // Statements may reach beyond the end, if a crash lost the readings there; clipping would hide them.
    const endMm = section.origin === 'measured' && on.endGaugeMm !== null ? on.endGaugeMm : Number.POSITIVE_INFINITY;
    return Math.max(0, Math.min(endMm, gaugeMm) - on.startGaugeMm) * on.lengthFactor;
  };
  const outerMm = (positionMm: number | null): number | null =>
    on === null || on.endGaugeMm === null || positionMm === null
      ? null
      : (on.endGaugeMm - on.startGaugeMm) * on.lengthFactor - positionMm;
  const [fromMm, toMm] = [trueMm(section.fromMm), trueMm(section.toMm)];
  const reachesIn =
    now === null ? null : reachesWinderInS(section.fromMm, now.gaugeMm, now.gaugeToWinderMm, now.speedMmPerS);
  return {
    ...section,
    doubt: section.doubt ?? null,
    spoolId: on?.spoolId ?? null,
    fromGaugeMm: section.fromMm,
    toGaugeMm: section.toMm,
    fromSpoolMm: fromMm,
    toSpoolMm: toMm,
    fromOuterMm: outerMm(toMm),
    toOuterMm: outerMm(fromMm),
    peakSpoolMm: trueMm(section.peakAtMm),
    reachesWinderInS: reachesIn,
  };
}

export function alarmView(alarm: Alarm): AlarmView {
  const { facts: _facts, suppression, ...shown } = alarm;
  return {
    ...shown,
    title: titleOf(alarm),
    longestShelfMin: longestShelfMin(alarm.type),
    suppression: suppression === null ? null : suppressionView(suppression),
  };
}

function suppressionView({ before: _before, ...suppression }: Suppression): NonNullable<AlarmView['suppression']> {
  return suppression;
}

export function spoolView(judged: Judgement): SpoolView {
  const { on, totals, plan, kept, verdict } = judged;
  const { spool, scale, settings } = on;
  const cutOffMm = plan?.donePieces.reduce((most, piece) => Math.max(most, piece.toOuterMm), 0) ?? 0;
  return {
    ...spool,
    ...totals,
    name: on.name,
    lengthFactor: scale.factor,
    woundMm: judged.woundMm,
    cutOffMm: Math.min(judged.woundMm, cutOffMm),
    judgedBy: judged.by.kind,
    printerName: judged.printerName,
    limits: limitsView(judged.limits),
    limitsWhenWound: limitsView(settings.limits),
    limitsChanged: settings.limitsChanged,
    kept,
    verdict: verdict as VerdictView | null,
    choices: { ...on.choices, prints: [...on.choices.prints] },
  };
}

export function limitsView(limits: StrandLimits): LimitsView {
  const { nominalMm, toleranceMm, hotendLimitMm, leastFeedableMm, strandPresentMm } = limits;
  return { nominalMm, toleranceMm, hotendLimitMm, leastFeedableMm, strandPresentMm };
}

/** A blob, and not perhaps a wrong reading: that is no diameter of the strand. */
function isBlob({ kind, doubt }: Section): boolean {
  return kind === 'blob' && doubt !== 'oneReading' && doubt !== 'fewReadings';
}

/** Certainly too thick, and not accepted by a user. */
function isBlobToDiscard({ kind, certainty, verdict }: Section): boolean {
  return kind === 'blob' && certainty === 'sure' && verdict === 'discard';
}

/** A run, judged by the limits in force while it was made. */
export function runView(
  run: Run,
  judged: readonly Judgement[],
  counts: Pick<RunView, 'alarms' | 'unreadableRows'>,
): RunView {
  const sum = (pick: (one: Judgement) => number) => judged.reduce((total, one) => total + pick(one), 0);
  const peaks = judged.flatMap(({ sections }) =>
    sections.flatMap((section) => (isBlob(section) && section.peakMm !== null ? [section.peakMm] : [])),
  );
  const lengths = {
    inProgress: run.endedMs === null,
    woundMm: sum(({ woundMm }) => woundMm),
    discardMm: sum(({ totals }) => totals.discardMm),
    doubtfulMm: sum(({ totals }) => totals.doubtfulMm),
    unknownMm: sum(({ totals }) => totals.unknownMm),
    keptMm: sum(({ kept }) => kept?.keptMm ?? 0),
    coils: sum(({ kept }) => kept?.coils ?? 0),
    blobsToDiscard: sum(({ sections }) => sections.filter(isBlobToDiscard).length),
  };
  return {
    id: run.id,
    startedMs: run.startedMs,
    endedMs: run.endedMs,
    timeZone: run.timeZone,
    sourceTitle: run.sourceTitle,
    note: run.note,
    lot: run.lot,
    spools: judged.length,
    woundMm: lengths.woundMm,
    discardMm: lengths.discardMm,
    keptMm: lengths.keptMm,
    coils: lengths.coils,
    blobs: peaks.length,
    ...counts,
    worstMm: peaks.length === 0 ? null : Math.max(...peaks),
    verdict: verdictOfRun(lengths),
  };
}

export function linkView(link: LinkSnapshot): LinkView {
  return {
    sourceTitle: link.sourceTitle,
    timing: link.timing,
    playback: link.playback === null ? null : { kind: link.playback.what, pace: link.playback.pace },
    phase: link.status.phase,
    text: link.status.text,
    releasedUntilMs: link.status.untilMs ?? null,
    silentForS: link.silentForS,
    linesPerS: link.linesPerS,
    shape: link.shape,
    checksum: link.checksum,
    received: link.counters.received,
    readings: link.counters.readings,
    lost: link.counters.lost,
    restarts: link.counters.restarts,
    dropped: { ...link.counters.dropped },
    notes: link.notes.map((note) => ({ ...note })),
    lastLine: link.lastLine,
  };
}
