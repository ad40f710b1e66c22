import type { AlarmType } from './alarm.ts';
import { type AlarmGroup, CATALOGUE } from './catalogue.ts';

/*
 * One cause, not twelve alarms: while the cause holds, what follows from it is suppressed by design. Common practice, no
 * source; the standards leave the pairs to whoever knows the plant.
 */

const NOT_IN_HEAT = ['heaterWeak', 'zoneLate', 'zoneDrifting', 'zoneOscillating'] as const;
const LOST_HEAT = ['heaterNoRise', 'heaterFallingAway'] as const;

/** What an alarm of the same zone (or of the line, where it has no zone) explains. What may burn is never explained away. */
const EXPLAINS: Partial<Record<AlarmType, readonly AlarmType[]>> = {
  sensorOpen: ['sensorFrozen', 'sensorJumping', ...NOT_IN_HEAT, ...LOST_HEAT],
  sensorShort: ['sensorFrozen', 'sensorJumping', ...NOT_IN_HEAT, ...LOST_HEAT],
  sensorFrozen: ['heaterNoRise', ...NOT_IN_HEAT],
  sensorJumping: ['zoneOscillating'],
  sensorSlipped: [...LOST_HEAT, ...NOT_IN_HEAT],
  heaterNoRise: NOT_IN_HEAT,
  // Not the other way round as well: two that each wait for the other would never be told.
  heaterFallingAway: ['heaterNoRise', ...NOT_IN_HEAT],
  heaterRisingWithoutPower: ['zoneDrifting', 'zoneOscillating'],
  heaterWeak: ['zoneLate'],
  strandLost: ['neck', 'offTolerance', 'gaugeFrozen'],
  gaugeFrozen: ['offTolerance'],
  gaugeMissing: ['gaugeFrozen', 'offTolerance'],
};

/** The clause that says why something rests. */
const WHILE: Partial<Record<AlarmType, string>> = {
  lineSilent: 'while the line is silent',
  sensorOpen: 'while its sensor is open',
  sensorShort: 'while its sensor is shorted',
  sensorFrozen: 'while its reading is frozen',
  sensorJumping: 'while its reading jumps',
  sensorSlipped: 'while its sensor seems to have slipped out',
  heaterNoRise: 'while its heater gives no rise',
  heaterFallingAway: 'while the zone falls away',
  heaterRisingWithoutPower: 'while the zone rises without power',
  heaterWeak: 'while its heater is weak',
  strandLost: 'while the strand is lost',
  gaugeFrozen: 'while the gauge is frozen',
  gaugeMissing: 'while there is no diameter',
};

/** All that is known of them comes over the line; the record lies on this machine. */
const COMES_OVER_THE_LINE: ReadonlySet<AlarmGroup> = new Set<AlarmGroup>(['strand', 'gauge', 'heat', 'link']);

/** What burns goes on calling when the line falls silent: the last that was known of it is that it burns. It is not shelved for long. */
export const DANGERS: ReadonlySet<AlarmType> = new Set<AlarmType>([
  'zoneAboveAbsoluteLimit',
  'heaterRisingWithoutPower',
  'sensorSlipped',
]);

const CAUSES: ReadonlyMap<AlarmType, readonly AlarmType[]> = turned(EXPLAINS);

/** The causes in the same zone (or of the line) that explain an alarm type. */
export function causesOf(type: AlarmType): readonly AlarmType[] {
  return CAUSES.get(type) ?? [];
}

/** The line's silence leaves nothing to say of this one. */
export function restsWhileSilent(type: AlarmType): boolean {
  return type !== 'lineSilent' && !DANGERS.has(type) && COMES_OVER_THE_LINE.has(CATALOGUE[type].group);
}

export function whileCause(cause: AlarmType): string {
  return WHILE[cause] ?? `while “${CATALOGUE[cause].title}” stands`;
}

function turned(explains: Partial<Record<AlarmType, readonly AlarmType[]>>): ReadonlyMap<AlarmType, AlarmType[]> {
  const causes = new Map<AlarmType, AlarmType[]>();
  for (const [cause, effects] of Object.entries(explains) as [AlarmType, readonly AlarmType[]][]) {
    for (const effect of effects) causes.set(effect, [...(causes.get(effect) ?? []), cause]);
  }
  return causes;
}
