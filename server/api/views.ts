import type { Alarm, AlarmRest } from '../alarm/alarm.ts';
import { titleOf } from '../alarm/catalogue.ts';
import { longestShelfMin } from '../alarm/shelf.ts';
import type { Cutting } from '../monitor/analysis/cutting-of.ts';
import type { LinkSnapshot } from '../monitor/link.ts';
import type { Run, Spool } from '../monitor/ports.ts';
import type { SpoolSettings } from '../monitor/run-settings.ts';
import { gramsOfLength } from '../strand/mass.ts';
import { reachesWinderInS } from '../strand/position.ts';
import type { Section } from '../strand/section.ts';
import { spoolTotals } from '../strand/spool-totals.ts';
import type { StrandLimits } from '../strand/strand-limits.ts';
import type { AlarmView, LimitsView, LinkView, RunView, SectionView, SpoolView } from './contract.ts';

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

/** The stretch of strand on a spool, in gauge lengths. */
export interface SpoolRange {
  readonly spool: Spool;
  /** The outer end, as far as readings were kept. */
  readonly endGaugeMm: number;
  /** Where the next spool of the run begins; up to there a person's word can only be about this one. */
  readonly reachGaugeMm: number;
  /** True length = this × what the line counted; 1 = never measured by tape. */
  readonly lengthFactor: number;
}

/** A section that lies on the spool in part is told with the part that does; places on the spool are true lengths. */
export function sectionView(section: Section, on: SpoolRange | null, now: NowAtGauge | null): SectionView {
  const start = on?.spool.startGaugeMm ?? 0;
  const spoolMm = (gaugeMm: number | null): number | null =>
    on === null || gaugeMm === null ? null : round(Math.max(0, gaugeMm - start) * on.lengthFactor, 1);
  const reachesIn =
    now === null ? null : reachesWinderInS(section.fromMm, now.gaugeMm, now.gaugeToWinderMm, now.speedMmPerS);
  return {
    id: section.id,
    spoolId: on?.spool.id ?? null,
    kind: section.kind,
    fromGaugeMm: round(section.fromMm, 1),
    toGaugeMm: round(section.toMm, 1),
    fromSpoolMm: spoolMm(section.fromMm),
    toSpoolMm: spoolMm(section.toMm),
    fromTimeMs: section.fromTimeMs,
    toTimeMs: section.toTimeMs,
    peakMm: roundOrNull(section.peakMm, 4),
    peakSpoolMm: spoolMm(section.peakAtMm),
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

/**
 * Sections that lie on a spool, wholly or in part. A crash can take the last second of readings, and the end with them:
 * what a person said of that strand stays, or it would be lost to the eye.
 */
export function sectionsOn(sections: readonly Section[], on: SpoolRange): readonly Section[] {
  return sections.filter(
    ({ origin, fromMm, toMm }) =>
      toMm > on.spool.startGaugeMm && fromMm < (origin === 'measured' ? on.endGaugeMm : on.reachGaugeMm),
  );
}

export function spoolView(
  on: SpoolRange,
  sections: readonly Section[],
  meanDiameterMm: number,
  settings: SpoolSettings,
  cutting: Cutting,
): SpoolView {
  const { spool, lengthFactor } = on;
  const woundMm = Math.max(0, on.endGaugeMm - spool.startGaugeMm) * lengthFactor;
  const totals = spoolTotals(sections, spool.startGaugeMm, on.endGaugeMm);
  const trueMm = (countedMm: number) => round(countedMm * lengthFactor, 1);
  return {
    id: spool.id,
    runId: spool.runId,
    ordinal: spool.ordinal,
    startedMs: spool.startedMs,
    endedMs: spool.endedMs,
    startGaugeMm: round(spool.startGaugeMm, 1),
    lengthFactor: round(lengthFactor, 6),
    woundMm: round(woundMm, 1),
    offMm: round(Math.min(woundMm, cutting.offMm), 1),
    woundG: round(gramsOfLength(woundMm, meanDiameterMm, settings.densityGPerCm3), 2),
    discardMm: trueMm(totals.discardMm),
    doubtfulMm: trueMm(totals.doubtfulMm),
    unknownMm: trueMm(totals.unknownMm),
    longestCleanMm: trueMm(totals.longestCleanMm),
    cutPlan: cutting.plan === null ? null : { keptMm: round(cutting.plan.keptMm, 1), coils: cutting.plan.coils },
    note: spool.note,
    limits: limitsView(settings.limits),
    limitsChanged: settings.limitsChanged,
  };
}

export function limitsView(limits: StrandLimits): LimitsView {
  const { nominalMm, toleranceMm, hotendLimitMm, leastFeedableMm, strandPresentMm } = limits;
  return { nominalMm, toleranceMm, hotendLimitMm, leastFeedableMm, strandPresentMm };
}

export function runView(
  run: Run,
  spools: readonly SpoolView[],
  sections: readonly Section[],
  alarmsRaised: number,
): RunView {
  const sum = (pick: (spool: SpoolView) => number) => spools.reduce((total, spool) => total + pick(spool), 0);
  const peaks = sections.flatMap((section) =>
    section.kind === 'blob' && section.peakMm !== null ? [section.peakMm] : [],
  );
  const woundMm = sum((spool) => spool.woundMm);
  const discardMm = sum((spool) => spool.discardMm);
  const keptMm = sum((spool) => spool.cutPlan?.keptMm ?? 0);
  const coils = sum((spool) => spool.cutPlan?.coils ?? 0);
  return {
    id: run.id,
    startedMs: run.startedMs,
    endedMs: run.endedMs,
    timeZone: run.timeZone,
    sourceTitle: run.sourceTitle,
    note: run.note,
    lot: run.lot,
    spools: spools.length,
    woundMm: round(woundMm, 1),
    discardMm: round(discardMm, 1),
    keptMm: round(keptMm, 1),
    coils,
    blobs: peaks.length,
    alarms: alarmsRaised,
    worstMm: peaks.length === 0 ? null : round(Math.max(...peaks), 4),
    verdict: verdictOfRun({
      going: run.endedMs === null,
      woundMm,
      discardMm,
      doubtfulMm: sum((spool) => spool.doubtfulMm),
      unknownMm: sum((spool) => spool.unknownMm),
      blobs: peaks.length,
      keptMm,
      coils,
    }),
  };
}

const metres = (mm: number) => `${(mm / 1000).toFixed(2)} m`;
const counted = (count: number, one: string, many: string) => (count === 1 ? `one ${one}` : `${count} ${many}`);

/** What went bad is what lies between the sections' edges; what is kept is what the cut plan keeps, which is less. */
function verdictOfRun(of: {
  readonly going: boolean;
  readonly woundMm: number;
  readonly discardMm: number;
  readonly doubtfulMm: number;
  readonly unknownMm: number;
  readonly blobs: number;
  readonly keptMm: number;
  readonly coils: number;
}): string {
  const { woundMm, discardMm, doubtfulMm, unknownMm, blobs, keptMm, coils } = of;
  if (woundMm <= 0) return of.going ? 'Nothing has been wound yet.' : 'Nothing was wound.';
  const aside = [
    ...(doubtfulMm > 0 ? [`${metres(doubtfulMm)} doubtful`] : []),
    ...(unknownMm > 0 ? [`${metres(unknownMm)} not measured`] : []),
  ];
  if (discardMm <= 0 && aside.length === 0) return `${metres(woundMm)} wound, nothing to cut out.`;
  const share = (100 * discardMm) / woundMm;
  const because = blobs === 0 ? '' : `, with ${counted(blobs, 'blob', 'blobs')} beyond the hotend limit`;
  const bad =
    discardMm <= 0
      ? 'nothing surely bad'
      : `${metres(discardMm)} (${share < 0.1 ? '< 0.1' : share.toFixed(1)} %) of it bad${because}`;
  const also = aside.length === 0 ? '' : `; besides, ${aside.join(', ')}`;
  const kept =
    coils === 0
      ? 'Cutting would keep nothing: no good piece is long enough.'
      : `Cutting keeps ${metres(keptMm)} in ${counted(coils, 'coil', 'coils')}.`;
  return `${metres(woundMm)} wound, ${bad}${also}. ${kept}`;
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
