/**
 * Alarm states as named by IEC 62682 / ISA-18.2. In the last three the alarm is suppressed. Only a user ends
 * `outOfService`; the other two can also end automatically.
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
  'blobInDoubt',
  'neck',
  'offTolerance',
  'strandLost',
  'spoolFull',
  'wantedReached',
  'gaugeFrozen',
  'gaugeMissing',
  'lengthContradicted',
  'gaugeBlind',
  'lineSilent',
  'lineGarbled',
  'signalsChanged',
  'deviceRestarted',
  'sensorOpen',
  'sensorShort',
  'heaterNoRise',
  'heaterLosingTemperature',
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
  'recordDamaged',
  'runDatedWrong',
  'keysGuessed',
] as const;
export type AlarmType = (typeof ALARM_TYPES)[number];

/**
 * Whether the condition of an alarm type holds at present. The engine adds delays, deadband and life cycle. Type and subject
 * together identify the alarm.
 */
export interface Condition {
  readonly type: AlarmType;
  /** What the alarm is about, where a type has several: `zone 2`; '' otherwise. */
  readonly subject: string;
  readonly active: boolean;
  /**
   * How far the value is beyond its limit, in the unit of the type's deadband; > 0 = beyond it. With a deadband the alarm returns
   * to normal only at `excess` ≤ −deadband.
   */
  readonly excess?: number;
  /** Facts for the sentence. */
  readonly facts: ConditionFacts;
  /**
   * A new number while the alarm is active means that it happened again (a second blob): the alarm counts it and becomes
   * unacknowledged again. Undefined = a lasting condition.
   */
  readonly occurrence?: number;
  /** Why the condition is expected now, as a clause; its alarm is then suppressed by design. Undefined = not expected. */
  readonly intended?: string;
}

export interface ConditionFacts {
  readonly zone?: number;
  readonly zoneName?: string;
  readonly diameterMm?: number;
  readonly limitMm?: number;
  readonly lengthMm?: number;
  /** Run to which the strand belongs. */
  readonly runId?: number;
  /** Place on that strand, as gauge length in the run: unaffected by later corrections of where spools start. */
  readonly gaugeMm?: number;
  /** Start of the stretch on that strand. */
  readonly fromGaugeMm?: number;
  /** Position on the spool, as known at the time, if a spool was being wound; for the sentence only. */
  readonly spoolMm?: number;
  readonly spoolOrdinal?: number;
  /** Start of the stretch on the spool; only in old alarms without gauge lengths. */
  readonly fromSpoolMm?: number;
  readonly reachesWinderInS?: number;
  readonly temperatureC?: number;
  readonly setpointC?: number;
  readonly limitC?: number;
  readonly power?: number;
  readonly forS?: number;
  readonly count?: number;
  /** Number of the last occurrence counted. Stored so that a restart does not count it again. */
  readonly occurrence?: number;
  readonly text?: string;
}

/** Why and for how long an alarm is suppressed. Times are UTC ms. */
export interface Suppression {
  readonly sinceMs: number;
  /** When the shelving ends … */
  readonly untilMs: number | null;
  /** … or at the end of the run, if that is earlier. */
  readonly untilRunEnds: boolean;
  /** As the user entered it; for a suppression by design a clause such as `while the line is silent`. '' = none given. */
  readonly reason: string;
  /** null = by design. */
  readonly by: string | null;
  readonly from: string | null;
  /** The state before suppression: an alarm that was unacknowledged then still must be acknowledged afterwards. */
  readonly before: AlarmState;
  /** Number of occurrences while suppressed. */
  readonly occurred: number;
}

/** One alarm in its current state. Times are UTC ms. */
export interface Alarm {
  /** Unique over all runs. */
  readonly id: number;
  readonly type: AlarmType;
  readonly subject: string;
  readonly priority: Priority;
  readonly state: AlarmState;
  /** What happened, where on the spool, how bad and for how long, in one or two plain sentences. */
  readonly sentence: string;
  /** What happens if the alarm is ignored. */
  readonly consequence: string;
  /** What to check first. */
  readonly firstCheck: string;
  /** Safety note; '' = none. */
  readonly caution: string;
  readonly occurrences: number;
  readonly raisedMs: number;
  readonly lastOccurredMs: number;
  readonly returnedMs: number | null;
  /** When the condition itself ended: earlier than `returnedMs` by the off-delay. */
  readonly ceasedMs: number | null;
  readonly acknowledgedMs: number | null;
  readonly acknowledgedBy: string | null;
  /** null = not suppressed. */
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

/** A user who acts on an alarm. */
export interface Person {
  readonly name: string;
  /** Address and kind of their device; null = unknown. */
  readonly from: string | null;
}

/** One step in an alarm's life, for the journal and for notifications (`alertsPeople`). */
export interface AlarmChange {
  readonly alarm: Alarm;
  readonly step: AlarmStep;
  readonly timeMs: number;
  /** User who took the step; null = automatic. */
  readonly by: string | null;
  /** Address and kind of their device; null = unknown, or automatic. */
  readonly from: string | null;
  /** Reason for a suppression or its end, as a clause; '' = none. */
  readonly reason: string;
}
