import type { AlarmState } from './alarm.ts';

/** What can happen to an alarm. `occur` = the condition becomes true, or happens again. */
export const ALARM_EVENTS = ['occur', 'return', 'acknowledge'] as const;
export type AlarmEvent = (typeof ALARM_EVENTS)[number];

/**
 * The transitions of the alarm state model of IEC 62682 / ISA-18.2 among its four main states. `null` = the model has no
 * such transition. `occur` on an acknowledged alarm is its re-alarming: something new happened that nobody has seen.
 */
const TRANSITIONS: Readonly<Record<AlarmState, Readonly<Record<AlarmEvent, AlarmState | null>>>> = {
  normal: { occur: 'unacknowledged', return: null, acknowledge: null },
  unacknowledged: { occur: 'unacknowledged', return: 'returnedUnacknowledged', acknowledge: 'acknowledged' },
  acknowledged: { occur: 'unacknowledged', return: 'normal', acknowledge: null },
  returnedUnacknowledged: { occur: 'unacknowledged', return: null, acknowledge: 'normal' },
};

/** The state after an event; null where the standard's model knows no such transition. */
export function nextState(state: AlarmState, event: AlarmEvent): AlarmState | null {
  return TRANSITIONS[state][event];
}

/** The condition holds in this state, as far as the alarm knows. */
export function isActive(state: AlarmState): boolean {
  return state === 'unacknowledged' || state === 'acknowledged';
}

/** Somebody must still confirm that it was seen. */
export function awaitsAcknowledgement(state: AlarmState): boolean {
  return state === 'unacknowledged' || state === 'returnedUnacknowledged';
}
