import type { AlarmType } from './alarm.ts';
import { type AlarmGroup, CATALOGUE } from './catalogue.ts';

/*
 * One cause, not twelve alarms: while the cause holds, what follows from it is suppressed by design. Common practice, no
 * source; the standards leave the pairs to whoever knows the plant.
 */

/** What an alarm of the same zone (or of the line, where it has no zone) explains. What may burn is never explained away. */
const EXPLAINS: Partial<Record<AlarmType, readonly AlarmType[]>> = {
  sensorOpen: ['sensorFrozen', 'sensorJumping', 'heaterNoRise', 'heaterFallingAway'],
  sensorShort: ['sensorFrozen', 'sensorJumping', 'heaterNoRise', 'heaterFallingAway'],
  sensorFrozen: ['heaterNoRise'],
  strandLost: ['neck', 'offTolerance', 'gaugeFrozen'],
  gaugeFrozen: ['offTolerance'],
};

/** The clause that says why something rests. */
const WHILE: Partial<Record<AlarmType, string>> = {
  lineSilent: 'while the line is silent',
  sensorOpen: 'while its sensor is open',
  sensorShort: 'while its sensor is shorted',
  sensorFrozen: 'while its reading is frozen',
  strandLost: 'while the strand is lost',
  gaugeFrozen: 'while the gauge is frozen',
};

/** All that is known of them comes over the line; the record lies on this machine. */
const COMES_OVER_THE_LINE: ReadonlySet<AlarmGroup> = new Set<AlarmGroup>(['strand', 'gauge', 'heat', 'link']);

/** What burns goes on calling when the line falls silent: the last that was known of it is that it burns. It is not shelved for long. */
export const DANGERS: ReadonlySet<AlarmType> = new Set<AlarmType>([
  'zoneAboveAbsoluteLimit',
  'heaterRisingWithoutPower',
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
