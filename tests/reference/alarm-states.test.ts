import { describe, expect, test } from 'vitest';
import { ALARM_STATES, type AlarmState, type AlarmStep } from '../../server/alarm/alarm.ts';
import {
  ALARM_EVENTS,
  type AlarmEvent,
  type AlarmSituation,
  alertsPeople,
  awaitsAcknowledgement,
  isActive,
  isLatched,
  isSuppressed,
  nextState,
} from '../../server/alarm/life-cycle.ts';

/**
 * State model of ISA-18.2 / IEC 62682 as reproduced at
 * https://pyautomation.readthedocs.io/en/latest/Developments_Guide/API/alarms/ (secondary source, read there): the states
 * Normal, Unacknowledged, Acknowledged, RTN Unacknowledged, Shelved, Suppressed by Design, Out of Service; Normal →
 * Unacknowledged on alarm; Unacknowledged → Acknowledged on acknowledge, → RTN Unacknowledged on return to normal;
 * Acknowledged → Normal on return to normal. That a shelved, suppressed or out-of-service alarm keeps working underneath: OPC
 * 10000-9 sec. 4.8, https://reference.opcfoundation.org/Core/Part9/v105/docs/4.8. All else is from memory of the standard's
 * diagram, no other source: RTN Unacknowledged → Normal on acknowledge, → Unacknowledged on alarm again; Acknowledged →
 * Unacknowledged on re-alarm; the two latched states and their reset; from any state into the last three, and out of them to
 * Unacknowledged with the alarm condition, to Normal without.
 */
type Row = readonly [AlarmState, AlarmEvent, AlarmState];
const STANDARD: readonly Row[] = [
  ['normal', 'occur', 'unacknowledged'],
  ['unacknowledged', 'acknowledge', 'acknowledged'],
  ['unacknowledged', 'return', 'returnedUnacknowledged'],
  ['acknowledged', 'return', 'normal'],
  ['returnedUnacknowledged', 'acknowledge', 'normal'],
  ['returnedUnacknowledged', 'occur', 'unacknowledged'],
  ['acknowledged', 'occur', 'unacknowledged'],
  ['latchedUnacknowledged', 'acknowledge', 'latchedAcknowledged'],
  ['latchedUnacknowledged', 'occur', 'unacknowledged'],
  ['latchedAcknowledged', 'reset', 'normal'],
  ['latchedAcknowledged', 'occur', 'unacknowledged'],
];
const LATCHING: readonly Row[] = [
  ['unacknowledged', 'return', 'latchedUnacknowledged'],
  ['acknowledged', 'return', 'latchedAcknowledged'],
];
const LIVE: readonly AlarmState[] = ALARM_STATES.slice(0, 6);
const INTO_SILENCED: readonly Row[] = LIVE.flatMap((from): Row[] => [
  [from, 'shelve', 'shelved'],
  [from, 'suppress', 'suppressedByDesign'],
  [from, 'removeFromService', 'outOfService'],
]);
const OUT_OF_SILENCED: readonly (readonly [AlarmState, AlarmEvent])[] = [
  ['shelved', 'unshelve'],
  ['suppressedByDesign', 'unsuppress'],
  ['outOfService', 'returnToService'],
];
/** Another occurrence leaves an unacknowledged alarm so; a shelved alarm may get another end. */
const STAYS: readonly Row[] = [
  ['unacknowledged', 'occur', 'unacknowledged'],
  ['shelved', 'shelve', 'shelved'],
];
/** Between the silenced states (our rule): users take precedence over the design, and out of service over shelving. */
const AMONG_SILENCED: readonly Row[] = [
  ['suppressedByDesign', 'shelve', 'shelved'],
  ['suppressedByDesign', 'removeFromService', 'outOfService'],
  ['shelved', 'removeFromService', 'outOfService'],
];

test.each([...STANDARD, ...INTO_SILENCED, ...STAYS, ...AMONG_SILENCED])(
  'from %s, on %s, an alarm becomes %s',
  (from, event, to) => {
    expect(nextState(from, event)).toBe(to);
  },
);

test.each(LATCHING)('a latching alarm: from %s, on %s, it becomes %s', (from, event, to) => {
  expect(nextState(from, event, { latching: true })).toBe(to);
});

test.each(OUT_OF_SILENCED)('from %s, on %s: unacknowledged while its condition holds, else normal', (from, event) => {
  expect(nextState(from, event, { active: true })).toBe('unacknowledged');
  expect(nextState(from, event, { active: false })).toBe('normal');
});

test('no transition exists beyond those of the standard', () => {
  const found = ALARM_STATES.flatMap((from) =>
    ALARM_EVENTS.flatMap((event) => (nextState(from, event) === null ? [] : [`${from} ${event}`])),
  );
  const known = [...STANDARD, ...INTO_SILENCED, ...STAYS, ...AMONG_SILENCED, ...OUT_OF_SILENCED].map(
    ([from, event]) => `${from} ${event}`,
  );
  expect(found.toSorted()).toEqual(known.toSorted());
});

test('only an acknowledgement, a return after one, a reset, or the end of a silenced state leads back to normal', () => {
  const transitions = ALARM_STATES.flatMap((from) =>
    ALARM_EVENTS.filter((event) => nextState(from, event) === 'normal').map((event) => `${from} ${event}`),
  );
  expect(transitions.toSorted()).toEqual(
    [
      'acknowledged return',
      'returnedUnacknowledged acknowledge',
      'latchedAcknowledged reset',
      'shelved unshelve',
      'suppressedByDesign unsuppress',
      'outOfService returnToService',
    ].toSorted(),
  );
});

/** The sub-states that OPC 10000-9 keeps apart (from memory): active, to be acknowledged, latched, suppressed. `-` = not so. */
test.each<readonly [AlarmState, string]>([
  ['normal', '----'],
  ['unacknowledged', 'AU--'],
  ['acknowledged', 'A---'],
  ['returnedUnacknowledged', '-U--'],
  ['latchedUnacknowledged', '-UL-'],
  ['latchedAcknowledged', '--L-'],
  ['shelved', '---S'],
  ['suppressedByDesign', '---S'],
  ['outOfService', '---S'],
])('an alarm that is %s has the sub-states %s', (state, subStates) => {
  const found = [isActive, awaitsAcknowledgement, isLatched, isSuppressed].map((is, i) =>
    is(state) ? 'AULS'[i] : '-',
  );
  expect(found.join('')).toBe(subStates);
});

test('people are notified of each step to unacknowledged, and of a latched alarm after its suppression, not of its end', () => {
  const notified = (step: AlarmStep) => ALARM_STATES.filter((state) => alertsPeople({ alarm: { state }, step }));
  expect(notified('raised')).toEqual(['unacknowledged', 'latchedUnacknowledged']);
  expect(notified('unsuppressed')).toEqual(['unacknowledged', 'latchedUnacknowledged']);
  expect(notified('returned')).toEqual(['unacknowledged']);
});

describe('where we are stricter than the standard', () => {
  const unsuppressed = (situation: Partial<AlarmSituation>) => nextState('suppressedByDesign', 'unsuppress', situation);

  test('an alarm that was unacknowledged before its suppression is so again afterwards', () => {
    expect(unsuppressed({ before: 'unacknowledged' })).toBe('returnedUnacknowledged');
    expect(unsuppressed({ before: 'unacknowledged', latching: true })).toBe('latchedUnacknowledged');
    expect(unsuppressed({ before: 'returnedUnacknowledged' })).toBe('returnedUnacknowledged');
  });

  test('an acknowledged alarm stays acknowledged after its suppression unless it occurred again', () => {
    expect(unsuppressed({ before: 'acknowledged', active: true })).toBe('acknowledged');
    expect(unsuppressed({ before: 'acknowledged', active: true, occurred: true })).toBe('unacknowledged');
    expect(unsuppressed({ before: 'acknowledged' })).toBe('normal');
    expect(unsuppressed({ before: 'acknowledged', latching: true })).toBe('latchedAcknowledged');
  });

  test('a latching alarm that occurred while shelved or out of service stays latched', () => {
    expect(nextState('shelved', 'unshelve', { latching: true, occurred: true })).toBe('latchedUnacknowledged');
    expect(nextState('outOfService', 'returnToService', { latching: true, occurred: true })).toBe(
      'latchedUnacknowledged',
    );
    expect(nextState('shelved', 'unshelve', { latching: true })).toBe('normal');
    expect(nextState('shelved', 'unshelve', { occurred: true })).toBe('normal');
  });
});
