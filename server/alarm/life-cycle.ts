import type { AlarmState, AlarmStep } from './alarm.ts';

/** What can happen to an alarm. `occur` = the condition becomes true, or happens again. */
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

/** What a transition depends on besides state and event. */
export interface AlarmSituation {
  /** The condition holds, its on-delay passed. */
  readonly active: boolean;
  /** The alarm stays after its condition is gone, until it was acknowledged and reset. */
  readonly latching: boolean;
  /** The state beneath one that is suppressed by design. */
  readonly before: AlarmState;
  /** It occurred while it was at rest. */
  readonly occurred: boolean;
}

const PLAIN: AlarmSituation = { active: false, latching: false, before: 'normal', occurred: false };

type Next = AlarmState | ((situation: AlarmSituation) => AlarmState);

const REST = { shelve: 'shelved', suppress: 'suppressedByDesign', removeFromService: 'outOfService' } as const;

/** Out of a rest that a person gave: an alarm if its condition holds, else normal. A latching one that occurred meanwhile stays. */
const back: Next = ({ active, latching, occurred }) => {
  if (active) return 'unacknowledged';
  return latching && occurred ? 'latchedUnacknowledged' : 'normal';
};

/** Out of suppression by design, which nobody chose: what nobody had seen before is still to be seen. */
const backByDesign: Next = ({ active, latching, before, occurred }) => {
  if (active) return before === 'acknowledged' && !occurred ? 'acknowledged' : 'unacknowledged';
  if (before === 'unacknowledged') return latching ? 'latchedUnacknowledged' : 'returnedUnacknowledged';
  if (before === 'acknowledged') return latching ? 'latchedAcknowledged' : 'normal';
  return before;
};

/**
 * The transitions of the alarm state model of IEC 62682 / ISA-18.2; what is not here does not exist. `occur` on an
 * acknowledged alarm is its re-alarming: something new happened that nobody has seen. A person's word goes before the design:
 * what is shelved or out of service is not suppressed.
 */
const TRANSITIONS: Readonly<Record<AlarmState, Readonly<Partial<Record<AlarmEvent, Next>>>>> = {
  normal: { occur: 'unacknowledged', ...REST },
  unacknowledged: {
    occur: 'unacknowledged',
    return: ({ latching }) => (latching ? 'latchedUnacknowledged' : 'returnedUnacknowledged'),
    acknowledge: 'acknowledged',
    ...REST,
  },
  acknowledged: {
    occur: 'unacknowledged',
    return: ({ latching }) => (latching ? 'latchedAcknowledged' : 'normal'),
    ...REST,
  },
  returnedUnacknowledged: { occur: 'unacknowledged', acknowledge: 'normal', ...REST },
  latchedUnacknowledged: { occur: 'unacknowledged', acknowledge: 'latchedAcknowledged', ...REST },
  latchedAcknowledged: { occur: 'unacknowledged', reset: 'normal', ...REST },
  shelved: { unshelve: back, shelve: 'shelved', removeFromService: 'outOfService' },
  suppressedByDesign: { unsuppress: backByDesign, shelve: 'shelved', removeFromService: 'outOfService' },
  outOfService: { returnToService: back },
};

/** The state after an event; null where the standard's model knows no such transition. */
export function nextState(
  state: AlarmState,
  event: AlarmEvent,
  situation: Partial<AlarmSituation> = PLAIN,
): AlarmState | null {
  const next = TRANSITIONS[state][event];
  if (next === undefined) return null;
  return typeof next === 'string' ? next : next({ ...PLAIN, ...situation });
}

/** The condition holds in this state, as far as the alarm knows. */
export function isActive(state: AlarmState): boolean {
  return state === 'unacknowledged' || state === 'acknowledged';
}

/** Somebody must still confirm that it was seen. */
export function awaitsAcknowledgement(state: AlarmState): boolean {
  return state === 'unacknowledged' || state === 'returnedUnacknowledged' || state === 'latchedUnacknowledged';
}

/** Its condition is gone, but it stays until it was acknowledged and reset. */
export function isLatched(state: AlarmState): boolean {
  return state === 'latchedUnacknowledged' || state === 'latchedAcknowledged';
}

/** Kept from calling anybody: shelved, suppressed by design, out of service. */
export function isSuppressed(state: AlarmState): boolean {
  return state === 'shelved' || state === 'suppressedByDesign' || state === 'outOfService';
}

/** A step that somebody must be told of: an alarm that nobody has acknowledged was raised, happened again or came back. */
export function callsForSomebody(step: {
  readonly alarm: { readonly state: AlarmState };
  readonly what: AlarmStep;
}): boolean {
  const { alarm, what } = step;
  return alarm.state === 'unacknowledged' || (what !== 'returned' && alarm.state === 'latchedUnacknowledged');
}
