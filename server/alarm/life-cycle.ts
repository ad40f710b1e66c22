import type { AlarmState, AlarmStep } from './alarm.ts';

/** Events in an alarm's life. `occur` = the condition becomes true, or happens again. */
export const ALARM_EVENTS = [
  'occur',
  'return',
  'acknowledge',
  'reset',
  'shelve',
  'unshelve',
  'suppress',
  'unsuppress',
  'removeFromService',
  'returnToService',
] as const;
export type AlarmEvent = (typeof ALARM_EVENTS)[number];

/** What a transition depends on, apart from state and event. */
export interface AlarmSituation {
  /** The condition holds and its on-delay is over. */
  readonly active: boolean;
  /** The alarm stays after its condition is gone, until it is acknowledged and reset. */
  readonly latching: boolean;
  /** The state before it was suppressed by design. */
  readonly before: AlarmState;
  /** It occurred while it was suppressed. */
  readonly occurred: boolean;
}

const DEFAULT_SITUATION: AlarmSituation = { active: false, latching: false, before: 'normal', occurred: false };

type Next = AlarmState | ((situation: AlarmSituation) => AlarmState);

const SUPPRESS = { shelve: 'shelved', suppress: 'suppressedByDesign', removeFromService: 'outOfService' } as const;

/** State after a user ends a suppression: unacknowledged if the condition holds, else normal. A latching alarm that occurred stays. */
const afterUser: Next = ({ active, latching, occurred }) => {
  if (active) return 'unacknowledged';
  return latching && occurred ? 'latchedUnacknowledged' : 'normal';
};

/** After suppression by design, which no user chose: an alarm that was unacknowledged before still must be acknowledged. */
const afterDesign: Next = ({ active, latching, before, occurred }) => {
  if (active) return before === 'acknowledged' && !occurred ? 'acknowledged' : 'unacknowledged';
  if (before === 'unacknowledged') return latching ? 'latchedUnacknowledged' : 'returnedUnacknowledged';
  if (before === 'acknowledged') return latching ? 'latchedAcknowledged' : 'normal';
  return before;
};

/**
 * The transitions of the alarm state model of IEC 62682 / ISA-18.2; there are no others. `occur` on an acknowledged alarm is
 * re-alarming: something new happened that no user has seen. A user's decision takes precedence: an alarm that is shelved or
 * out of service is not suppressed by design.
 */
const TRANSITIONS: Readonly<Record<AlarmState, Readonly<Partial<Record<AlarmEvent, Next>>>>> = {
  normal: { occur: 'unacknowledged', ...SUPPRESS },
  unacknowledged: {
    occur: 'unacknowledged',
    return: ({ latching }) => (latching ? 'latchedUnacknowledged' : 'returnedUnacknowledged'),
    acknowledge: 'acknowledged',
    ...SUPPRESS,
  },
  acknowledged: {
    occur: 'unacknowledged',
    return: ({ latching }) => (latching ? 'latchedAcknowledged' : 'normal'),
    ...SUPPRESS,
  },
  returnedUnacknowledged: { occur: 'unacknowledged', acknowledge: 'normal', ...SUPPRESS },
  latchedUnacknowledged: { occur: 'unacknowledged', acknowledge: 'latchedAcknowledged', ...SUPPRESS },
  latchedAcknowledged: { occur: 'unacknowledged', reset: 'normal', ...SUPPRESS },
  shelved: { unshelve: afterUser, shelve: 'shelved', removeFromService: 'outOfService' },
  suppressedByDesign: { unsuppress: afterDesign, shelve: 'shelved', removeFromService: 'outOfService' },
  outOfService: { returnToService: afterUser },
};

/** The state after an event; null where the standard's model has no such transition. */
export function nextState(
  state: AlarmState,
  event: AlarmEvent,
  situation: Partial<AlarmSituation> = DEFAULT_SITUATION,
): AlarmState | null {
  const next = TRANSITIONS[state][event];
  if (next === undefined) return null;
  return typeof next === 'string' ? next : next({ ...DEFAULT_SITUATION, ...situation });
}

/** The condition holds in this state. */
export function isActive(state: AlarmState): boolean {
  return state === 'unacknowledged' || state === 'acknowledged';
}

/** A user has yet to confirm that they have seen it. */
export function awaitsAcknowledgement(state: AlarmState): boolean {
  return state === 'unacknowledged' || state === 'returnedUnacknowledged' || state === 'latchedUnacknowledged';
}

/** Its condition is gone, but it stays until it is acknowledged and reset. */
export function isLatched(state: AlarmState): boolean {
  return state === 'latchedUnacknowledged' || state === 'latchedAcknowledged';
}

/** Shelved, suppressed by design or out of service: it notifies no one. */
export function isSuppressed(state: AlarmState): boolean {
  return state === 'shelved' || state === 'suppressedByDesign' || state === 'outOfService';
}

/** A step to notify people of: an unacknowledged alarm was raised, happened again or was restored. */
export function alertsPeople(change: {
  readonly alarm: { readonly state: AlarmState };
  readonly step: AlarmStep;
}): boolean {
  const { alarm, step } = change;
  return alarm.state === 'unacknowledged' || (step !== 'returned' && alarm.state === 'latchedUnacknowledged');
}
