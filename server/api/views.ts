import type { Alarm, Suppression } from '../alarm/alarm.ts';
import { CATALOGUE, titleOf } from '../alarm/catalogue.ts';
import { longestShelfMin } from '../alarm/shelving.ts';
import { isExample, type Run } from '../entities/run.ts';
import type { LinkSnapshot } from '../monitor/line/link.ts';
import type { Judgement } from '../monitor/spool/judgement.ts';
import { strandOn } from '../monitor/spool/wound-spool.ts';
import { reachesWinderInS, type StrandOnWinder, spoolPositionMm } from '../strand/position.ts';
import type { Section } from '../strand/section.ts';
import type { StrandLimits } from '../strand/strand-limits.ts';
import { firstTrouble, type Trouble, verdictOfRun } from '../strand/verdict/run-verdict.ts';
import type { AlarmView } from './contract/alarms.ts';
import type { LinkView } from './contract/live-state.ts';
import type { LimitsView, RunView, SectionView, SpoolRow, SpoolView, VerdictView } from './contract/runs-and-spools.ts';

/** Converts values of the rooms to API responses; the contract defines how many digits are sent. */

/** The line now, for countdowns. */
export interface NowAtGauge {
  readonly gaugeMm: number;
  readonly speedMmPerS: number;
  readonly gaugeToWinderMm: number;
}

/** Converts gauge lengths to positions on a spool. */
export interface SpoolFrame extends StrandOnWinder {
  readonly spoolId: number;
  /** The outer end; null = still being wound. */
  readonly endGaugeMm: number | null;
}

export function frameOf({ woundSpool }: Pick<Judgement, 'woundSpool'>): SpoolFrame {
  return { ...strandOn(woundSpool), spoolId: woundSpool.spool.id, endGaugeMm: woundSpool.endGaugeMm };
}

/** Clips the section to the spool; positions on the spool are true lengths. */
export function sectionView(section: Section, frame: SpoolFrame | null, now: NowAtGauge | null): SectionView {
  const trueMm = (gaugeMm: number | null): number | null => {
    if (frame === null || gaugeMm === null) return null;
    // Statements may reach beyond the end, if a crash lost the readings there; clipping would hide them.
    const endMm =
      section.origin === 'measured' && frame.endGaugeMm !== null ? frame.endGaugeMm : Number.POSITIVE_INFINITY;
    return Math.max(0, spoolPositionMm(Math.min(endMm, gaugeMm), frame));
  };
  const outerMm = (positionMm: number | null): number | null =>
    frame === null || frame.endGaugeMm === null || positionMm === null
      ? null
      : spoolPositionMm(frame.endGaugeMm, frame) - positionMm;
  const [fromMm, toMm] = [trueMm(section.fromMm), trueMm(section.toMm)];
  const reachesIn =
    now === null ? null : reachesWinderInS(section.fromMm, now.gaugeMm, now.gaugeToWinderMm, now.speedMmPerS);
  return {
    ...section,
    doubt: section.doubt ?? null,
    decision: section.decision ?? null,
    spoolId: frame?.spoolId ?? null,
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
  const { woundSpool, totals, plan, kept, verdict } = judged;
  const { spool, scale, settings } = woundSpool;
  const cutOffMm = plan?.donePieces.reduce((most, piece) => Math.max(most, piece.toOuterMm), 0) ?? 0;
  return {
    ...spool,
    ...totals,
    name: woundSpool.name,
    code: woundSpool.code,
    lengthFactor: scale.factor,
    cutOuts: [...woundSpool.cutOuts],
    woundMm: judged.woundMm,
    cutOffMm: Math.min(judged.woundMm, cutOffMm),
    isCut: isCut(plan),
    judgedBy: judged.by.kind,
    printerName: judged.printerName,
    limits: limitsView(judged.limits),
    limitsWhenWound: limitsView(settings.limits),
    limitsChanged: settings.limitsChanged,
    kept,
    verdict: verdict as VerdictView | null,
    choices: { ...woundSpool.choices, prints: [...woundSpool.choices.prints] },
  };
}

export function spoolRow(judged: Judgement, diameterSdMm: number | null): SpoolRow {
  const { run } = judged.woundSpool;
  const { verdict, kept, ...view } = spoolView(judged);
  return {
    ...view,
    timeZone: run.timeZone,
    example: isExample(run),
    lot: run.lot,
    keptMm: kept?.keptMm ?? 0,
    coils: kept?.coils ?? 0,
    longestCoilMm: kept?.longestCoilMm ?? 0,
    blobs: peaksOf(judged.sections).length,
    diameterSdMm,
    fitness: verdict?.fitness ?? null,
    reason: verdict?.reasons[0] ?? '',
  };
}

/** All its cuts are made. */
function isCut(plan: Judgement['plan']): boolean {
  return plan !== null && plan.done.length > 0 && plan.steps.length === 0;
}

export function limitsView(limits: StrandLimits): LimitsView {
  const { nominalMm, toleranceMm, hotendLimitMm, smallestFeedableMm, strandPresentMm } = limits;
  return { nominalMm, toleranceMm, hotendLimitMm, smallestFeedableMm, strandPresentMm };
}

/** A blob, and not perhaps a wrong reading: that is no diameter of the strand. */
function isBlob({ kind, doubt }: Section): boolean {
  return kind === 'blob' && doubt !== 'oneReading' && doubt !== 'fewReadings';
}

function peaksOf(sections: readonly Section[]): number[] {
  return sections.flatMap((section) => (isBlob(section) && section.peakMm !== null ? [section.peakMm] : []));
}

/** What went wrong with heat, gauge, cable or strand while strand was wound. What cannot harm it is left out. */
export function troublesWhile(judged: readonly Judgement[], raised: readonly Alarm[]): Trouble[] {
  const wasWound = (atMs: number) =>
    judged.some(
      ({ woundSpool: { spool } }) => spool.startedMs <= atMs && atMs <= (spool.endedMs ?? Number.POSITIVE_INFINITY),
    );
  return raised
    .filter(({ type, priority }) => {
      const { group } = CATALOGUE[type];
      return priority !== 'low' && (type === 'strandLost' || (group !== 'strand' && group !== 'record'));
    })
    .map((alarm) => ({ title: titleOf(alarm), atMs: alarm.raisedMs, zone: alarm.facts.zone ?? null }))
    .filter(({ atMs }) => wasWound(atMs));
}

/** A run, judged by the limits in force while it was made. */
export function runView(
  run: Run,
  judged: readonly Judgement[],
  figures: Pick<RunView, 'alarms' | 'unreadableRows' | 'diameterMeanMm' | 'diameterSdMm'>,
  troubles: readonly Trouble[],
): RunView {
  const sum = (pick: (one: Judgement) => number) => judged.reduce((total, one) => total + pick(one), 0);
  const sections = judged.flatMap((one) => one.sections);
  const peaks = peaksOf(sections);
  return {
    id: run.id,
    startedMs: run.startedMs,
    endedMs: run.endedMs,
    timeZone: run.timeZone,
    sourceTitle: run.sourceTitle,
    example: isExample(run),
    note: run.note,
    title: run.title,
    isTest: run.isTest,
    lot: run.lot,
    spools: judged.length,
    woundMm: sum(({ woundMm }) => woundMm),
    discardMm: sum(({ totals }) => totals.discardMm),
    doubtfulMm: sum(({ totals }) => totals.doubtfulMm),
    unknownMm: sum(({ totals }) => totals.unknownMm),
    keptMm: sum(({ kept }) => kept?.keptMm ?? 0),
    coils: sum(({ kept }) => kept?.coils ?? 0),
    longestCoilMm: Math.max(0, ...judged.map(({ kept }) => kept?.longestCoilMm ?? 0)),
    blobs: peaks.length,
    ...figures,
    worstMm: peaks.length === 0 ? null : Math.max(...peaks),
    verdict: verdictOfRun(
      run.endedMs === null,
      judged.map(({ woundSpool, woundMm, totals, verdict, sections, plan }) => ({
        ordinal: woundSpool.spool.ordinal,
        woundMm,
        unknownMm: totals.unknownMm,
        fitness: verdict?.fitness ?? null,
        sections,
        isCut: isCut(plan),
      })),
    ),
    trouble: firstTrouble(troubles, sections),
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
    readingsPerS: link.readingsPerS,
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
