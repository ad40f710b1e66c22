/**
 * Alarm states as IEC 62682 / ISA-18.2 name them. Of the last three (the alarm is at rest) the first two end by themselves,
 * the last one only by a person.
 */
export const ALARM_STATES = [
  'normal',
  'unacknowledged',
  'acknowledged',
  'returnedUnacknowledged',
  'latchedUnacknowledged',
  'latchedAcknowledged',
  'shelved',
  'suppressedByDesign',
  'outOfService',
] as const;
export type AlarmState = (typeof ALARM_STATES)[number];

export const PRIORITIES = ['high', 'medium', 'low'] as const;
export type Priority = (typeof PRIORITIES)[number];

export const ALARM_TYPES = [
  'blob',
  'neck',
  'offTolerance',
  'strandLost',
  'gaugeFrozen',
  'gaugeMissing',
  'lineSilent',
  'lineGarbled',
  'deviceRestarted',
  'sensorOpen',
  'sensorShort',
  'heaterNoRise',
  'heaterFallingAway',
  'heaterRisingWithoutPower',
  'zoneAboveAbsoluteLimit',
  'sensorSlipped',
  'heaterWeak',
  'sensorFrozen',
  'sensorJumping',
  'zoneLate',
  'zoneOscillating',
  'zoneDrifting',
  'coldScrew',
  'hotStanding',
  'recordFailing',
  'diskFilling',
] as const;
export type AlarmType = (typeof ALARM_TYPES)[number];

/**
 * Whether something that an alarm type watches holds at a moment. The engine adds delays, deadband and life cycle.
 * Pushed whenever it is evaluated; the same (type, subject) is one alarm.
 */
export interface Condition {
  readonly type: AlarmType;
  /** What it is about where a type has several: `zone 2`; '' otherwise. */
  readonly subject: string;
  readonly active: boolean;
  /**
   * How far beyond its limit, in the unit of the type's deadband, where it has one: > 0 is beyond. With a deadband the
   * alarm returns to normal only at `excess` ≤ −deadband.
   */
  readonly excess?: number;
  /** Facts for the sentence: numbers in their units. */
  readonly facts: ConditionFacts;
  /**
   * A new number here while the alarm is active says that it happened again (a second blob): the alarm counts it and is
   * unacknowledged anew. Undefined = a lasting condition.
   */
  readonly occurrence?: number;
}

export interface ConditionFacts {
  readonly zone?: number;
  readonly zoneName?: string;
  readonly diameterMm?: number;
  readonly limitMm?: number;
  readonly lengthMm?: number;
  /** The run whose strand it is about. */
  readonly runId?: number;
  /** Where on that strand: gauge length in the run. It stays, whatever becomes known of where spools begin. */
  readonly gaugeMm?: number;
  /** Where on that strand the stretch begins that it is about. */
  readonly fromGaugeMm?: number;
  /** Where on the spool the sentence tells it to be: as the spool lay then, if one was being wound. */
  readonly spoolMm?: number;
  readonly spoolOrdinal?: number;
  /** Where the stretch begins on the spool: kept only with alarms from before gauge lengths were. */
  readonly fromSpoolMm?: number;
  readonly reachesWinderInS?: number;
  readonly temperatureC?: number;
  readonly setpointC?: number;
  readonly limitC?: number;
  readonly power?: number;
  readonly forS?: number;
  readonly count?: number;
  /** Number of the last occurrence that was counted; kept with the alarm, so that after a restart nothing counts twice. */
  readonly occurrence?: number;
  readonly text?: string;
}

/** Why an alarm is at rest: shelved, suppressed by design or out of service. Times are UTC ms. */
export interface Suppression {
  readonly sinceMs: number;
  /** A shelved alarm comes back by itself at this time … */
  readonly untilMs: number | null;
  /** … or at the end of the run, if that comes first. */
  readonly untilRunEnds: boolean;
  /** As a person gave it; by design: `while the line is silent`. '' = none given. */
  readonly reason: string;
  /** null = by design. */
  readonly by: string | null;
  readonly from: string | null;
  /** The state beneath an alarm that is suppressed by design: what was not seen before must still be seen after. */
  readonly before: AlarmState;
  /** How often it occurred meanwhile. */
  readonly occurred: number;
}

/** One alarm as it stands. Times are UTC ms. */
export interface Alarm {
  /** Unique over all runs; given by the engine, from 1 upwards of a start value. */
  readonly id: number;
  readonly type: AlarmType;
  readonly subject: string;
  readonly priority: Priority;
  readonly state: AlarmState;
  /** What, where on the spool, since when, how bad: one or two plain sentences. */
  readonly sentence: string;
  /** What happens if nobody does anything. */
  readonly consequence: string;
  /** What to check first. */
  readonly firstCheck: string;
  /** The safety remark that fits; '' where none does. */
  readonly caution: string;
  readonly occurrences: number;
  readonly raisedMs: number;
  readonly lastOccurredMs: number;
  readonly returnedMs: number | null;
  /** When the condition itself ceased: earlier than `returnedMs` by the off-delay. */
  readonly ceasedMs: number | null;
  readonly acknowledgedMs: number | null;
  readonly acknowledgedBy: string | null;
  /** null = it is not at rest. */
  readonly suppression: Suppression | null;
  readonly facts: ConditionFacts;
}

export const ALARM_STEPS = [
  'raised',
  'again',
  'returned',
  'acknowledged',
  'reset',
  'shelved',
  'unshelved',
  'suppressed',
  'unsuppressed',
  'outOfService',
  'returnedToService',
] as const;
export type AlarmStep = (typeof ALARM_STEPS)[number];

/** Somebody who answers an alarm. */
export interface Person {
  readonly name: string;
  /** Where they spoke from: address and kind of device; null = not known. */
  readonly from: string | null;
}

/** One step of an alarm's life, for the journal and for whoever must be told (`callsForSomebody`). */
export interface AlarmChange {
  readonly alarm: Alarm;
  readonly what: AlarmStep;
  readonly timeMs: number;
  /** Who did it; null for the line itself. */
  readonly by: string | null;
  /** From where they did it; null = not known, or the line itself. */
  readonly from: string | null;
  /** A plain clause: why it rests, why it came back; '' where the step says it all. */
  readonly why: string;
}
