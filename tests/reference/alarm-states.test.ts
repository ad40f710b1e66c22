import { expect, test } from 'vitest';
import type { AlarmState } from '../../server/alarm/alarm.ts';
import { ALARM_STATES } from '../../server/alarm/alarm.ts';
import { ALARM_EVENTS, type AlarmEvent, nextState } from '../../server/alarm/life-cycle.ts';

/**
 * State model of ISA-18.2 / IEC 62682 as reproduced at
 * https://pyautomation.readthedocs.io/en/latest/Developments_Guide/API/alarms/ (secondary source, read there): Normal →
 * Unacknowledged on alarm; Unacknowledged → Acknowledged on acknowledge, → RTN Unacknowledged on return to normal;
 * Acknowledged → Normal on return to normal. From memory of the standard's diagram, no other source: RTN Unacknowledged →
 * Normal on acknowledge, → Unacknowledged on alarm again; Acknowledged → Unacknowledged on re-alarm.
 */
const STANDARD: readonly [AlarmState, AlarmEvent, AlarmState][] = [
  ['normal', 'occur', 'unacknowledged'],
  ['unacknowledged', 'acknowledge', 'acknowledged'],
  ['unacknowledged', 'return', 'returnedUnacknowledged'],
  ['acknowledged', 'return', 'normal'],
  ['returnedUnacknowledged', 'acknowledge', 'normal'],
  ['returnedUnacknowledged', 'occur', 'unacknowledged'],
  ['acknowledged', 'occur', 'unacknowledged'],
];
/** A further alarm of a state that is already unacknowledged leaves it so. */
const STAYS: readonly [AlarmState, AlarmEvent, AlarmState][] = [['unacknowledged', 'occur', 'unacknowledged']];

test.each([...STANDARD, ...STAYS])('from %s, on %s, an alarm becomes %s', (from, event, to) => {
  expect(nextState(from, event)).toBe(to);
});

test('no transition exists beyond those of the standard', () => {
  const found = ALARM_STATES.flatMap((from) =>
    ALARM_EVENTS.flatMap((event) => (nextState(from, event) === null ? [] : [`${from} ${event}`])),
  );
  const known = [...STANDARD, ...STAYS].map(([from, event]) => `${from} ${event}`);
  expect(found.toSorted()).toEqual(known.toSorted());
});

test('only an acknowledgement or a return after one leads back to normal', () => {
  const ways = ALARM_STATES.flatMap((from) =>
    ALARM_EVENTS.filter((event) => nextState(from, event) === 'normal').map((event) => `${from} ${event}`),
  );
  expect(ways.toSorted()).toEqual(['acknowledged return', 'returnedUnacknowledged acknowledge']);
});
