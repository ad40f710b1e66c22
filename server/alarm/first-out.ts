import type { AlarmType } from './alarm.ts';
import { type AlarmGroup, CATALOGUE } from './catalogue.ts';

/*
 * One cause, not twelve alarms: while a cause holds, its consequences are suppressed by design. Common practice, no source;
 * the standards leave the pairs to those who know the plant.
 */

const NOT_IN_HEAT = ['heaterWeak', 'zoneLate', 'zoneDrifting', 'zoneOscillating'] as const;
const LOST_HEAT = ['heaterNoRise', 'heaterLosingTemperature'] as const;

/** Consequences of each alarm in the same zone, or on the whole line where it has no zone. A fire hazard is never suppressed. */
const EXPLAINS: Readonly<Partial<Record<Cause, readonly AlarmType[]>>> = {
  sensorOpen: ['sensorFrozen', 'sensorJumping', ...NOT_IN_HEAT, ...LOST_HEAT],
  sensorShort: ['sensorFrozen', 'sensorJumping', ...NOT_IN_HEAT, ...LOST_HEAT],
  sensorFrozen: ['heaterNoRise', ...NOT_IN_HEAT],
  sensorJumping: ['zoneOscillating'],
  sensorSlipped: [...LOST_HEAT, ...NOT_IN_HEAT],
  heaterNoRise: NOT_IN_HEAT,
  // One way only: two alarms that suppress each other would never be raised.
  heaterLosingTemperature: ['heaterNoRise', ...NOT_IN_HEAT],
  heaterRisingWithoutPower: ['zoneDrifting', 'zoneOscillating'],
  heaterWeak: ['zoneLate'],
  strandLost: ['neck', 'offTolerance', 'gaugeFrozen'],
  gaugeFrozen: ['offTolerance'],
  gaugeMissing: ['gaugeFrozen', 'offTolerance'],
  // Lines are dropped until the new format is recognised.
  signalsChanged: ['lineGarbled'],
};

/** Clause that gives the reason for a suppression. */
const WHILE = {
  lineSilent: 'while the line is silent',
  sensorOpen: 'while its sensor is open',
  sensorShort: 'while its sensor is shorted',
  sensorFrozen: 'while its reading is frozen',
  sensorJumping: 'while its reading jumps',
  sensorSlipped: 'while its sensor seems to have slipped out',
  heaterNoRise: 'while its zone does not warm up as it should',
  heaterLosingTemperature: 'while the zone loses temperature',
  heaterRisingWithoutPower: 'while the zone gets hotter without power',
  heaterWeak: 'while the zone is weaker than learnt',
  strandLost: 'while the strand is lost',
  gaugeFrozen: 'while the gauge is frozen',
  gaugeMissing: 'while there is no diameter',
  signalsChanged: 'while the signals are not understood',
} as const satisfies Partial<Record<AlarmType, string>>;
/** An alarm type that suppresses others. */
type Cause = keyof typeof WHILE;

/** Groups that depend on what the line sends; the record is on this machine. */
const SENT_BY_LINE: ReadonlySet<AlarmGroup> = new Set<AlarmGroup>(['strand', 'gauge', 'heat', 'link']);

/** Fire hazards. Silence does not suppress them, as they are the last known state, and they cannot be shelved for long. */
export const DANGERS: ReadonlySet<AlarmType> = new Set<AlarmType>([
  'zoneAboveAbsoluteLimit',
  'heaterRisingWithoutPower',
  'sensorSlipped',
]);

const CAUSES = invert(EXPLAINS);

/** Causes of an alarm type, in the same zone or on the whole line. */
export function causesOf(type: AlarmType): readonly Cause[] {
  return CAUSES.get(type) ?? [];
}

/** Nothing is known about this alarm while the line is silent. */
export function isSuppressedBySilence(type: AlarmType): boolean {
  return type !== 'lineSilent' && !DANGERS.has(type) && SENT_BY_LINE.has(CATALOGUE[type].group);
}

export function whileCause(cause: Cause): string {
  return WHILE[cause];
}

function invert(explains: typeof EXPLAINS): ReadonlyMap<AlarmType, readonly Cause[]> {
  const causes = new Map<AlarmType, Cause[]>();
  for (const [cause, effects] of Object.entries(explains) as [Cause, readonly AlarmType[]][]) {
    for (const effect of effects) causes.set(effect, [...(causes.get(effect) ?? []), cause]);
  }
  return causes;
}
