import type { Alarm, AlarmRest } from '../alarm/alarm.ts';
import { titleOf } from '../alarm/catalogue.ts';
import { longestShelfMin } from '../alarm/shelf.ts';
import type { LinkSnapshot } from '../monitor/link.ts';
import type { Run } from '../monitor/ports.ts';
import type { Judgement } from '../monitor/spool/judgement.ts';
import { reachesWinderInS } from '../strand/position.ts';
import type { Section } from '../strand/section.ts';
import type { StrandLimits } from '../strand/strand-limits.ts';
import { verdictOfRun } from '../strand/verdict/run-verdict.ts';
import type { SpoolVerdict } from '../strand/verdict/spool-verdict.ts';
import type { AlarmView, LimitsView, LinkView, RunView, SectionView, SpoolView, VerdictView } from './contract.ts';

/** From what the rooms know to what travels to the page. Numbers are rounded to what the sensors can tell. */

export const round = (value: number, digits: number): number => Number(value.toFixed(digits));

export const roundOrNull = (value: number | null | undefined, digits: number): number | null =>
  value === null || value === undefined || !Number.isFinite(value) ? null : round(value, digits);

/** Where the line is now, for countdowns; null = this is not about the line as it runs. */
export interface NowAtGauge {
  readonly gaugeMm: number;
  readonly speedMmPerS: number;
  readonly gaugeToWinderMm: number;
}

/** Where a section's places on a spool count from. */
export interface SpoolFrame {
  readonly spoolId: number;
  readonly startGaugeMm: number;
  /** The outer end; null = it is being wound and moves on. */
  readonly endGaugeMm: number | null;
  /** True length = this × what the line counted. */
  readonly lengthFactor: number;
}

export function frameOf({ on }: Judgement): SpoolFrame {
  const { startGaugeMm, endGaugeMm } = on;
  return { spoolId: on.spool.id, startGaugeMm, endGaugeMm, lengthFactor: on.scale.factor };
}

/** A section that lies on the spool in part is told with the part that does; places on the spool are true lengths. */
export function sectionView(section: Section, on: SpoolFrame | null, now: NowAtGauge | null): SectionView {
  const trueMm = (gaugeMm: number | null): number | null => {
    if (on === null || gaugeMm === null) return null;
    // What users stated of strand whose readings a crash took is kept, or it would be lost to the eye.
    const endMm = section.origin === 'measured' && on.endGaugeMm !== null ? on.endGaugeMm : Number.POSITIVE_INFINITY;
    return Math.max(0, Math.min(endMm, gaugeMm) - on.startGaugeMm) * on.lengthFactor;
  };
  const outerMm = (positionMm: number | null): number | null =>
    on === null || on.endGaugeMm === null || positionMm === null
      ? null
      : round((on.endGaugeMm - on.startGaugeMm) * on.lengthFactor - positionMm, 1);
  const [fromMm, toMm] = [trueMm(section.fromMm), trueMm(section.toMm)];
  const reachesIn =
    now === null ? null : reachesWinderInS(section.fromMm, now.gaugeMm, now.gaugeToWinderMm, now.speedMmPerS);
  return {
    id: section.id,
    spoolId: on?.spoolId ?? null,
    kind: section.kind,
    fromGaugeMm: round(section.fromMm, 1),
    toGaugeMm: round(section.toMm, 1),
    fromSpoolMm: roundOrNull(fromMm, 1),
    toSpoolMm: roundOrNull(toMm, 1),
    fromOuterMm: outerMm(toMm),
    toOuterMm: outerMm(fromMm),
    fromTimeMs: section.fromTimeMs,
    toTimeMs: section.toTimeMs,
    peakMm: roundOrNull(section.peakMm, 4),
    peakSpoolMm: roundOrNull(trueMm(section.peakAtMm), 1),
    volumeBeyondMm3: roundOrNull(section.volumeBeyondMm3, 3),
    certainty: section.certainty,
    verdict: section.verdict,
    note: section.note,
    origin: section.origin,
    open: section.open,
    reachesWinderInS: roundOrNull(reachesIn, 1),
  };
}

export function alarmView(alarm: Alarm): AlarmView {
  const { facts: _facts, rest, ...told } = alarm;
  return {
    ...told,
    title: titleOf(alarm),
    longestShelfMin: longestShelfMin(alarm.type),
    rest: rest === null ? null : restView(rest),
  };
}

function restView({ before: _before, ...rest }: AlarmRest): NonNullable<AlarmView['rest']> {
  return rest;
}

export function spoolView(judged: Judgement): SpoolView {
  const { on, totals, plan, kept, verdict } = judged;
  const { spool, scale, settings } = on;
  const offMm = plan?.donePieces.reduce((most, piece) => Math.max(most, piece.toOuterMm), 0) ?? 0;
  return {
    id: spool.id,
    runId: spool.runId,
    ordinal: spool.ordinal,
    name: on.name,
    startedMs: spool.startedMs,
    endedMs: spool.endedMs,
    startGaugeMm: round(spool.startGaugeMm, 1),
    lengthFactor: round(scale.factor, 6),
    woundMm: round(judged.woundMm, 1),
    offMm: round(Math.min(judged.woundMm, offMm), 1),
    judgedBy: judged.by.kind,
    printerName: judged.printerName,
    limits: limitsView(judged.limits),
    woundUnder: limitsView(settings.limits),
    limitsChanged: settings.limitsChanged,
    discardMm: round(totals.discardMm, 1),
    doubtfulMm: round(totals.doubtfulMm, 1),
    unknownMm: round(totals.unknownMm, 1),
    longestCleanMm: round(totals.longestCleanMm, 1),
    kept: kept === null ? null : { ...kept },
    verdict: verdict === null ? null : verdictView(verdict),
    choices: { ...on.choices },
    note: spool.note,
  };
}

export function verdictView(verdict: SpoolVerdict): VerdictView {
  const { fitness, sentence, reasons, longestCleanPiece: piece, afterCutting } = verdict;
  return {
    fitness,
    sentence,
    reasons: [...reasons],
    longestCleanPiece:
      piece === null
        ? null
        : { fromMm: round(piece.fromMm, 1), toMm: round(piece.toMm, 1), lengthMm: round(piece.lengthMm, 1) },
    afterCutting: afterCutting === null ? null : { ...afterCutting },
  };
}

export function limitsView(limits: StrandLimits): LimitsView {
  const { nominalMm, toleranceMm, hotendLimitMm, leastFeedableMm, strandPresentMm } = limits;
  return { nominalMm, toleranceMm, hotendLimitMm, leastFeedableMm, strandPresentMm };
}

/** A run by the limits of its night. */
export function runView(run: Run, judged: readonly Judgement[], alarmsRaised: number): RunView {
  const sum = (pick: (one: Judgement) => number) => judged.reduce((total, one) => total + pick(one), 0);
  const peaks = judged.flatMap(({ sections }) =>
    sections.flatMap(({ kind, peakMm }) => (kind === 'blob' && peakMm !== null ? [peakMm] : [])),
  );
  const lengths = {
    going: run.endedMs === null,
    woundMm: sum(({ woundMm }) => woundMm),
    discardMm: sum(({ totals }) => totals.discardMm),
    doubtfulMm: sum(({ totals }) => totals.doubtfulMm),
    unknownMm: sum(({ totals }) => totals.unknownMm),
    keptMm: sum(({ kept }) => kept?.keptMm ?? 0),
    coils: sum(({ kept }) => kept?.coils ?? 0),
    blobs: peaks.length,
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
    woundMm: round(lengths.woundMm, 1),
    discardMm: round(lengths.discardMm, 1),
    keptMm: round(lengths.keptMm, 1),
    coils: lengths.coils,
    blobs: peaks.length,
    alarms: alarmsRaised,
    worstMm: peaks.length === 0 ? null : round(Math.max(...peaks), 4),
    verdict: verdictOfRun(lengths),
  };
}

export function linkView(link: LinkSnapshot): LinkView {
  return {
    sourceTitle: link.sourceTitle,
    timing: link.timing,
    stagedAs: link.stagedAs,
    phase: link.status.phase,
    words: link.status.words,
    silentForS: roundOrNull(link.silentForS, 1),
    linesPerS: round(link.linesPerS, 1),
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
