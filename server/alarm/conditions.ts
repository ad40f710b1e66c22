import type { HeatFault, HeatLimits, ZoneStatus } from '../heat/zone-status.ts';
import { HEAT_FAULTS } from '../heat/zone-status.ts';
import { listed } from '../problem/sentence.ts';
import type { LengthContradiction } from '../strand/length-agreement.ts';
import type { Doubt, MeasuredSection, Section } from '../strand/section.ts';
import type { StrandLimits } from '../strand/strand-limits.ts';
import type { Alarm, AlarmType, Condition, ConditionFacts } from './alarm.ts';
import { NO_DIAMETER_AFTER_S } from './unwatched.ts';

/** Time without a reading line that raises an alarm, s. */
export const SILENT_AFTER_S = 3;
/** Share of dropped lines in the last ten seconds that raises an alarm (common practice, no source), %. */
export const GARBLED_ABOVE_PERCENT = 10;

/** What arrives while nothing can be read: bytes that are no text, text without line ends, or lines of no known form. */
export type Unreadable = 'bytes' | 'noLineEnds' | 'lines';

export const UNREADABLE_TEXT: Readonly<Record<Unreadable, string>> = {
  bytes: 'What arrives is not text: the baud rate is probably wrong.',
  noLineEnds: 'Text arrives without line ends: end each line with println.',
  lines: 'Text arrives that Strandward cannot read: see What your line sends, in Set-up.',
};

const ALARM_OF_FAULT: Readonly<Record<HeatFault, AlarmType>> = {
  sensorOpen: 'sensorOpen',
  sensorShort: 'sensorShort',
  noRise: 'heaterNoRise',
  losingTemperature: 'heaterLosingTemperature',
  risingWithoutPower: 'heaterRisingWithoutPower',
  aboveAbsoluteLimit: 'zoneAboveAbsoluteLimit',
  sensorSlipped: 'sensorSlipped',
  heaterWeak: 'heaterWeak',
  frozen: 'sensorFrozen',
  jumping: 'sensorJumping',
  late: 'zoneLate',
  oscillating: 'zoneOscillating',
  drifting: 'zoneDrifting',
};

/** One condition for each fault that a zone can have, active or not. `zoneName` '' = none. */
export function heatConditions(zone: ZoneStatus, zoneName: string, limits: HeatLimits): readonly Condition[] {
  const facts: ConditionFacts = {
    zone: zone.zone,
    ...(zoneName === '' ? {} : { zoneName }),
    ...(zone.temperatureC === null ? {} : { temperatureC: zone.temperatureC }),
    ...(zone.setpointC === null ? {} : { setpointC: zone.setpointC }),
    ...(zone.power === null ? {} : { power: zone.power }),
  };
  return HEAT_FAULTS.map((fault) => {
    const condition: Condition = {
      type: ALARM_OF_FAULT[fault],
      subject: `zone ${zone.zone}`,
      active: zone.faults.includes(fault),
      facts,
    };
    if (fault !== 'aboveAbsoluteLimit') return condition;
    return {
      ...condition,
      facts: { ...facts, limitC: limits.absoluteLimitC },
      ...(zone.temperatureC === null ? {} : { excess: zone.temperatureC - limits.absoluteLimitC }),
    };
  });
}

/** `cold`: the zone that is too cold, with its name; null = none is, or the screw is stopped. */
export function coldScrewCondition(cold: ZoneStatus | null, zoneName: string): Condition {
  const belowK = cold === null ? 0 : Math.round((cold.setpointC ?? 0) - (cold.temperatureC ?? 0));
  return {
    type: 'coldScrew',
    subject: '',
    active: cold !== null,
    facts: cold === null ? {} : { text: `${zoneName} is ${belowK} °C below its set-point` },
  };
}

/** `forS`: how long the line has been hot without moving, s. */
export function hotStandingCondition(forS: number, hottestC: number | null, charAfterMin: number): Condition {
  return {
    type: 'hotStanding',
    subject: '',
    active: forS >= charAfterMin * 60,
    facts: { forS, ...(hottestC === null ? {} : { temperatureC: hottestC }) },
  };
}

/** A section and where it is now. */
export interface PlacedSection {
  readonly section: MeasuredSection;
  /** The run that it belongs to; a later run has a higher number. */
  readonly runId: number;
  /** Position of its peak (or its start) on the spool, mm; null = no spool is being wound there. */
  readonly spoolMm: number | null;
  readonly spoolOrdinal: number | null;
  /** null = already wound, or the strand is not moving. */
  readonly reachesWinderInS: number | null;
}

/** Kinds of section that raise an alarm. These alarms are about the strand of one run. */
export const STRAND_ALARMS = ['blob', 'blobInDoubt', 'neck', 'offTolerance', 'strandLost'] as const;
type StrandAlarm = (typeof STRAND_ALARMS)[number];
type AlarmingSection = Pick<Section, 'kind' | 'certainty' | 'open' | 'fromMm' | 'toMm'>;

/** A blob or thin spot still in doubt after this much strand raises its alarm before it ends. */
const DOUBT_FROM_MM = 50;

/**
 * The alarm of a section; null = none. Each blob and thin spot is in doubt at its first readings, so a doubt counts only when it
 * is over or long. Strand that may be out of tolerance or not raises none: with a gauge that cannot tell, the alarms would never end.
 */
export function strandAlarmOf(section: AlarmingSection): StrandAlarm | null {
  const { kind, certainty, open, fromMm, toMm } = section;
  if (certainty === 'inDoubt') {
    if (kind === 'offTolerance' || (open && kind !== 'strandLost' && toMm - fromMm < DOUBT_FROM_MM)) return null;
    if (kind === 'blob') return 'blobInDoubt';
  }
  return STRAND_ALARMS.find((type) => type === kind) ?? null;
}

const DOUBT_TEXT: Readonly<Record<Doubt, string>> = {
  nearLimit: 'too near to the limit for this gauge to tell',
  oneReading: 'one reading only',
  fewReadings: 'two readings only, or readings too close together for a blob',
  gaugeShifted: 'the gauge shifted before it',
  axesDisagree: 'the two axes of the gauge disagree',
  gaugeBlind: 'the range of the gauge ends too low',
  gaugeNoisy: 'the gauge is too noisy',
};

/** More sections than any run has. */
const SECTIONS_PER_RUN = 1_000_000;

/** The highest number of a section of this run that an alarm has reported; 0 = none. */
export function lastReportedSection(alarms: readonly Alarm[], runId: number): number {
  const numbers = alarms.flatMap(({ type, facts: { occurrence = 0 } }) =>
    STRAND_ALARMS.some((one) => one === type) && Math.floor(occurrence / SECTIONS_PER_RUN) === runId
      ? [occurrence % SECTIONS_PER_RUN]
      : [],
  );
  return Math.max(0, ...numbers);
}

/**
 * The condition of one section; null where its kind raises no alarm. `active`: a blob is between gauge and winder, any other
 * section is still in progress.
 */
export function sectionCondition(
  { section, runId, spoolMm, spoolOrdinal, reachesWinderInS }: PlacedSection,
  active: boolean,
  limits: StrandLimits,
): Condition | null {
  const type = strandAlarmOf(section);
  if (type === null) return null;
  const limitMm = limitOf(type, section, limits);
  // Each run numbers its sections from 1; occurrences must differ between runs. Strand that wanders across the tolerance is
  // one lasting condition.
  const occurrence = runId * SECTIONS_PER_RUN + section.ordinal;
  const isLasting = type === 'offTolerance';
  // Written field by field: spreading small objects is slow, and this runs ten times a second for a blob on its way.
  const facts: Writable<ConditionFacts> = isLasting ? {} : { occurrence };
  facts.lengthMm = Math.max(0, section.toMm - section.fromMm);
  facts.forS = Math.max(0, (section.toTimeMs - section.fromTimeMs) / 1000);
  if (section.peakMm !== null && type !== 'strandLost') facts.diameterMm = section.peakMm;
  if (limitMm !== null) facts.limitMm = limitMm;
  if (type === 'blobInDoubt' || (type === 'neck' && section.certainty === 'inDoubt'))
    facts.text = DOUBT_TEXT[section.doubt ?? 'nearLimit'];
  facts.runId = runId;
  facts.gaugeMm = section.peakAtMm ?? section.fromMm;
  facts.fromGaugeMm = section.fromMm;
  if (spoolMm !== null) facts.spoolMm = spoolMm;
  if (spoolOrdinal !== null) facts.spoolOrdinal = spoolOrdinal;
  if (reachesWinderInS !== null) facts.reachesWinderInS = reachesWinderInS;
  return isLasting ? { type, subject: '', active, facts } : { type, subject: '', active, occurrence, facts };
}

type Writable<T> = { -readonly [Name in keyof T]: T[Name] };

function limitOf(type: StrandAlarm, section: MeasuredSection, limits: StrandLimits): number | null {
  switch (type) {
    case 'blob':
    case 'blobInDoubt':
      return limits.hotendLimitMm;
    case 'neck':
      return limits.smallestFeedableMm;
    case 'offTolerance':
      return limits.nominalMm + ((section.peakMm ?? 0) >= limits.nominalMm ? 1 : -1) * limits.toleranceMm;
    case 'strandLost':
      return null;
  }
}

/**
 * Gauges whose readings are all doubtful: strand near a limit is no news then, nor single readings if it is noise. A blind one
 * still shows where blobs are cut off.
 */
const UNBELIEVED: ReadonlySet<Doubt | undefined> = new Set<Doubt>(['gaugeShifted', 'axesDisagree', 'gaugeNoisy']);
const NOISY: ReadonlySet<Doubt | undefined> = new Set<Doubt>(['gaugeNoisy']);

/** Where the readings of the gauge became doubtful, gauge length, mm; Infinity = they are not. */
function unbelievedFromMm(active: readonly PlacedSection[], doubts: ReadonlySet<Doubt | undefined>): number {
  return active.reduce(
    (fromMm, { section }) =>
      section.kind === 'unknown' && section.open && doubts.has(section.doubt)
        ? Math.min(fromMm, section.fromMm)
        : fromMm,
    Number.POSITIVE_INFINITY,
  );
}

/**
 * One condition for each strand alarm, from all sections that are active now, with the newest as its occurrence. Several blobs
 * on their way at once are one alarm with a count.
 */
export function strandConditions(active: readonly PlacedSection[], limits: StrandLimits): readonly Condition[] {
  const unbelieved = unbelievedFromMm(active, UNBELIEVED);
  const noisy = unbelievedFromMm(active, NOISY);
  return STRAND_ALARMS.map((type) => {
    let newest: PlacedSection | null = null;
    for (const placed of active) {
      const { certainty, doubt, fromMm } = placed.section;
      if (certainty === 'inDoubt' && fromMm >= (doubt === 'nearLimit' ? unbelieved : noisy)) continue;
      if (strandAlarmOf(placed.section) === type && placed.section.ordinal > (newest?.section.ordinal ?? 0))
        newest = placed;
    }
    const condition = newest === null ? null : sectionCondition(newest, true, limits);
    return condition ?? { type, subject: '', active: false, facts: {} };
  });
}

/**
 * `silentForS`: time since the last line, or since the source was started; null = unknown. Only a live source can fall
 * silent. `isReleased`: a user has released the port, so the silence is intended.
 */
export function lineSilentCondition(link: {
  readonly live: boolean;
  readonly silentForS: number | null;
  /** The source's description of its connection. */
  readonly text?: string;
  readonly isReleased?: boolean;
}): Condition {
  const { live, silentForS, text, isReleased = false } = link;
  return {
    type: 'lineSilent',
    subject: '',
    active: live && silentForS !== null && silentForS >= SILENT_AFTER_S,
    facts: { ...(silentForS === null ? {} : { forS: silentForS }), ...(text ? { text } : {}) },
    ...(isReleased ? { intended: 'while the port is released' } : {}),
  };
}

/** `droppedShare`: of the last ten seconds' lines, 0…1; `unreadable`: what arrived without any readable line, null = readable lines, or nothing. */
export function lineGarbledCondition(link: {
  readonly droppedShare: number;
  readonly unreadable: Unreadable | null;
}): Condition {
  const percent = link.unreadable !== null ? 100 : Math.round(link.droppedShare * 100);
  return {
    type: 'lineGarbled',
    subject: '',
    active: percent > GARBLED_ABOVE_PERCENT,
    excess: percent - GARBLED_ABOVE_PERCENT,
    facts: {
      count: percent,
      ...(link.unreadable === null ? {} : { text: UNREADABLE_TEXT[link.unreadable] }),
    },
  };
}

/** `lost`: what no longer arrives under a name that is understood; null = nothing. */
export function signalsChangedCondition(
  lost: { readonly all: boolean; readonly diameter: boolean; readonly zones: readonly number[] } | null,
  zoneNames: readonly string[] = [],
): Condition {
  const condition: Condition = { type: 'signalsChanged', subject: '', active: lost !== null, facts: {} };
  if (lost === null || lost.all) return condition;
  const zones = lost.zones.map((zone) => zoneNames[zone - 1] || `zone ${zone}`);
  const what = [
    ...(lost.diameter ? ['the diameter'] : []),
    ...(zones.length === 0 ? [] : [`the temperature${zones.length === 1 ? '' : 's'} of ${listed(zones)}`]),
  ];
  return { ...condition, facts: { text: what.join(' and ') } };
}

/** `restartedMs`: when the last restart was noticed, UTC ms, null = never; `justNow`: within the last seconds. */
export function deviceRestartedCondition(link: {
  readonly restartedMs: number | null;
  readonly justNow: boolean;
  /** Place on the strand; null = no spool is being wound. */
  readonly where: Pick<ConditionFacts, 'runId' | 'gaugeMm' | 'spoolMm' | 'spoolOrdinal'> | null;
}): Condition {
  // Each connection counts restarts from 0, so the time serves as a number that is unique.
  const occurrence = Math.round(link.restartedMs ?? 0);
  return {
    type: 'deviceRestarted',
    subject: '',
    active: link.justNow && occurrence > 0,
    occurrence,
    facts: { occurrence, ...link.where },
  };
}

export function gaugeFrozenCondition(gauge: {
  readonly frozen: boolean;
  readonly diameterMm?: number;
  readonly forS?: number;
}): Condition {
  return {
    type: 'gaugeFrozen',
    subject: '',
    active: gauge.frozen,
    facts: {
      ...(gauge.diameterMm === undefined ? {} : { diameterMm: gauge.diameterMm }),
      ...(gauge.forS === undefined ? {} : { forS: gauge.forS }),
    },
  };
}

/** `forS`: how long readings have come without a diameter, or with an impossible one, s. */
export function gaugeMissingCondition(forS: number): Condition {
  return { type: 'gaugeMissing', subject: '', active: forS >= NO_DIAMETER_AFTER_S, facts: { forS } };
}

/** `found`: what the counter and the speed say; null = they agree. */
export function lengthContradictedCondition(found: LengthContradiction | null): Condition {
  return {
    type: 'lengthContradicted',
    subject: '',
    active: found !== null,
    facts:
      found === null
        ? {}
        : { text: `len counts ${found.countedMmPerS.toFixed(0)} mm/s, v says ${found.sentMmPerS.toFixed(0)} mm/s` },
  };
}

/** `rangeEndsMm`: the highest diameter that the gauge can send, where that is too low to see a blob; null = it is not. */
export function gaugeBlindCondition(rangeEndsMm: number | null, limitMm: number): Condition {
  return {
    type: 'gaugeBlind',
    subject: '',
    active: rangeEndsMm !== null,
    facts: rangeEndsMm === null ? {} : { diameterMm: rangeEndsMm, limitMm },
  };
}
