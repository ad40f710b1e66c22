import { expect, test } from 'vitest';
import type { Alarm, AlarmType } from '../../server/alarm/alarm.ts';
import { headline, type StateOfLine } from '../../server/alarm/headline.ts';
import { alarm, WELL } from './well-line.ts';

const RELEASED: StateOfLine['link'] = {
  phase: 'released',
  text: 'Released /dev/ttyUSB0 to other programs for 2 min.',
  silentForS: 40,
  live: true,
  isReleased: true,
};
const blobOnItsWay = { diameterMm: 2.31 };

test('names spool and length, and that all is well', () => {
  expect(headline(WELL)).toEqual({
    sentence: 'Winding spool 1: 41 m, all well.',
    severity: 'calm',
    brief: 'Winding 41 m',
    alarmId: null,
  });
});

test('names a blob on its way, and the alarm to acknowledge', () => {
  expect(headline({ ...WELL, alarms: [alarm('blob'), alarm('neck')], blobOnItsWay })).toEqual({
    sentence: 'Blob of 2.31 mm on its way to the winder. And 1 more alarm.',
    severity: 'danger',
    brief: 'Blob +1',
    alarmId: 1,
  });
});

test('never says that all is well while the port is released, nor until lines arrive again', () => {
  expect(headline({ ...WELL, link: RELEASED })).toMatchObject({
    sentence: 'Nothing is being watched. Released /dev/ttyUSB0 to other programs for 2 min.',
    severity: 'abnormal',
  });
  expect(headline({ ...WELL, link: { ...RELEASED, phase: 'open', text: 'Reading from /dev/ttyUSB0.' } })).toMatchObject(
    {
      sentence: 'Waiting for data since the port was released.',
      severity: 'abnormal',
    },
  );
});

test('never says that all is well while the line is silent', () => {
  const link = { ...WELL.link, silentForS: 14 };
  expect(headline({ ...WELL, link })).toMatchObject({
    sentence: 'No data for 14 s: nothing is being watched.',
    severity: 'danger',
  });
  expect(headline({ ...WELL, link, blobOnItsWay, alarms: [alarm('blob')] }).sentence).toContain('14 s');
  expect(headline({ ...WELL, link: { ...link, live: false } }).severity).toBe('calm');
});

test('puts a zone that may burn first', () => {
  const link = { ...WELL.link, silentForS: 14 };
  const alarms = [alarm('lineSilent'), alarm('zoneAboveAbsoluteLimit')];
  expect(headline({ ...WELL, link, alarms }).sentence).toBe(
    'Something about zoneAboveAbsoluteLimit. And 1 more alarm.',
  );
});

test('puts a record that fails before a blob, and after a zone that fails', () => {
  const first = (...types: AlarmType[]) =>
    headline({ ...WELL, alarms: types.map((type) => alarm(type)), blobOnItsWay }).sentence;
  expect(first('blob', 'recordFailing')).toMatch(/^Something about recordFailing\./);
  expect(first('recordFailing', 'sensorOpen')).toMatch(/^Something about sensorOpen\./);
});

test('no longer says silent once the line sends again', () => {
  const state = headline({ ...WELL, alarms: [alarm('lineSilent')] });
  expect(state.severity).toBe('notice');
  expect(state.sentence).toMatch(/^Data is back after a gap\. Winding spool 1: 41 m\./);
});

test('sets the severity by priority; an acknowledged danger is abnormal', () => {
  const severity = (a: Alarm) => headline({ ...WELL, alarms: [a] }).severity;
  expect(severity(alarm('strandLost'))).toBe('danger');
  expect(severity(alarm('strandLost', { state: 'acknowledged' }))).toBe('abnormal');
  expect(severity(alarm('lineGarbled'))).toBe('abnormal');
  expect(severity(alarm('deviceRestarted'))).toBe('notice');
  expect(severity(alarm('strandLost', { state: 'returnedUnacknowledged' }))).toBe('notice');
});

test('puts a lost heater before its consequences, and unacknowledged alarms before acknowledged ones', () => {
  const follows = [alarm('strandLost'), alarm('coldScrew')];
  const stateWith = (...alarms: Alarm[]) => headline({ ...WELL, alarms });
  const state = stateWith(...follows, alarm('heaterLosingTemperature'));
  expect(state.sentence).toBe('Something about heaterLosingTemperature. And 2 more alarms.');
  expect(stateWith(...follows).sentence).toBe('Something about strandLost. And 1 more alarm.');
  const answered = stateWith(alarm('heaterLosingTemperature', { state: 'acknowledged' }), ...follows);
  expect(answered).toMatchObject({ sentence: 'Something about strandLost. And 2 more alarms.', severity: 'danger' });
  expect(stateWith(alarm('lineGarbled'), alarm('heaterWeak'), ...follows).sentence).toContain('strandLost');
  // Also before an acknowledged one of the next higher priority, but not before one that is two priorities higher.
  const acknowledged = alarm('blob', { state: 'acknowledged' });
  expect(stateWith(acknowledged, alarm('neck')).sentence).toBe('Something about neck. And 1 more alarm.');
  expect(stateWith(acknowledged, alarm('deviceRestarted')).sentence).toContain('about blob');
});

test('counts past unacknowledged alarms, too, while another is active', () => {
  const past = alarm('heaterLosingTemperature', { state: 'returnedUnacknowledged' });
  const state = headline({ ...WELL, alarms: [past, alarm('offTolerance')] });
  expect(state).toMatchObject({
    sentence: 'Something about offTolerance. And 1 more alarm.',
    brief: expect.stringMatching(/\+1$/),
  });
});

test('names past unacknowledged alarms, what to do, and the present state', () => {
  const over = (type: AlarmType, facts: Alarm['facts'] = {}) => alarm(type, { state: 'returnedUnacknowledged', facts });
  expect(headline({ ...WELL, alarms: [over('strandLost')] }).sentence).toBe(
    'Past alarm to acknowledge: “Strand lost”. Winding spool 1: 41 m.',
  );
  const zone = over('heaterNoRise', { zone: 2, zoneName: 'Die' });
  expect(headline({ ...WELL, stage: 'stopped', alarms: [zone, over('blob')] }).sentence).toBe(
    '2 past alarms to acknowledge. The line is standing still.',
  );
});

test('says what is missing before winding', () => {
  const cold = ['Die is 40 °C below its set-point'];
  expect(
    headline({ ...WELL, stage: 'heating', missing: [...cold, 'no strand in the gauge yet'], offHeat: cold }),
  ).toEqual(
    expect.objectContaining({
      sentence: 'Heating up. Before winding: Die is 40 °C below its set-point, no strand in the gauge yet.',
      brief: 'Heating up',
    }),
  );
  const two = [...cold, 'Melt zone is 30 °C below its set-point'];
  expect(
    headline({ ...WELL, stage: 'heating', missing: [...two, 'no strand in the gauge yet'], offHeat: two }),
  ).toEqual(
    expect.objectContaining({
      sentence: 'Heating up. Before winding: 2 zones are not at temperature, no strand in the gauge yet.',
    }),
  );
  expect(headline({ ...WELL, stage: 'heating', missing: ['soak 6 min'] })).toMatchObject({
    sentence: 'At temperature. Before winding: soak 6 min.',
    brief: 'At temperature',
  });
  expect(headline({ ...WELL, stage: 'purging' }).sentence).toBe('Purging: ready to wind.');
});

test('is not calm while the link is not open', () => {
  const link = {
    phase: 'waiting',
    text: 'Cannot open /dev/ttyUSB0: no such port',
    silentForS: null,
    live: true,
  } as const;
  expect(headline({ ...WELL, stage: 'stopped', link })).toMatchObject({
    sentence: 'Not watching yet: Cannot open /dev/ttyUSB0: no such port.',
    severity: 'notice',
  });
});

test('leaves out unknown numbers', () => {
  const state = headline({ ...WELL, woundMm: null, spoolOrdinal: null });
  expect(state.sentence).toBe('Winding, all well.');
});

test('does not say that a line is back which never sent anything', () => {
  const link = { ...WELL.link, phase: 'waiting', text: 'Cannot open it.', silentForS: null } as const;
  const silent = alarm('lineSilent');
  expect(headline({ ...WELL, link, alarms: [silent] })).toMatchObject({
    sentence: silent.sentence,
    severity: 'danger',
  });
});

test('asks for a reset of a latched alarm', () => {
  const facts = { zone: 2, zoneName: 'Die' };
  const latched = alarm('zoneAboveAbsoluteLimit', { state: 'latchedAcknowledged', facts });
  expect(headline({ ...WELL, alarms: [latched] })).toMatchObject({
    sentence:
      '“Zone 2 (Die): above the limit” has cleared. Check that the cause is fixed, then press Reset. Winding spool 1: 41 m.',
    severity: 'notice',
  });
});

test('mentions shelved and out-of-service alarms instead of all well', () => {
  const suppressed = [alarm('blob', { state: 'shelved' }), alarm('neck', { state: 'outOfService' })];
  expect(headline({ ...WELL, suppressed })).toMatchObject({
    sentence: 'Winding spool 1: 41 m, no fault seen now. 1 alarm is silenced, 1 alarm is out of service.',
    severity: 'notice',
  });
  expect(headline({ ...WELL, suppressed: [alarm('neck', { state: 'outOfService' })] }).severity).toBe('calm');
  expect(headline({ ...WELL, suppressed: [alarm('neck', { state: 'suppressedByDesign' })] })).toMatchObject({
    sentence: 'Winding spool 1: 41 m, all well.',
    severity: 'calm',
  });
});
