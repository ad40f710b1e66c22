import { expect, test } from 'vitest';
import type { Alarm, AlarmType } from '../../server/alarm/alarm.ts';
import { CATALOGUE } from '../../server/alarm/catalogue.ts';
import { type StateOfLine, sentenceOfState } from '../../server/alarm/sentence-of-state.ts';

const WELL: StateOfLine = {
  stage: 'winding',
  missing: [],
  alarms: [],
  spoolOrdinal: 1,
  woundMm: 41_200,
  diameterMm: 1.752,
  link: { phase: 'open', text: 'Reading.', silentForS: 0.02, live: true },
};
const alarm = (type: AlarmType, over: Partial<Alarm> = {}): Alarm => ({
  id: 1,
  type,
  subject: '',
  priority: CATALOGUE[type].priority,
  state: 'unacknowledged',
  sentence: `Something about ${type}.`,
  consequence: '',
  firstCheck: '',
  caution: '',
  occurrences: 1,
  raisedMs: 0,
  lastOccurredMs: 0,
  returnedMs: null,
  ceasedMs: null,
  acknowledgedMs: null,
  acknowledgedBy: null,
  suppression: null,
  facts: {},
  ...over,
});
const blobOnItsWay = { diameterMm: 2.31, spoolMm: 38_400, reachesWinderInS: 9.2 };

test('all well says how much is wound, how thick, and that all is well', () => {
  expect(sentenceOfState(WELL)).toEqual({
    sentence: 'Winding: 41.2 m on spool 1, 1.752 mm, all well.',
    severity: 'calm',
  });
});

test('a blob on its way counts down', () => {
  expect(sentenceOfState({ ...WELL, alarms: [alarm('blob')], blobOnItsWay })).toEqual({
    sentence: 'Blob of 2.31 mm at 38.40 m – reaches the winder in 9 s.',
    severity: 'danger',
  });
});

test('silence is never all well', () => {
  const link = { ...WELL.link, silentForS: 14 };
  expect(sentenceOfState({ ...WELL, link })).toEqual({
    sentence: 'No reading line for 14 s: the line is not being watched.',
    severity: 'danger',
  });
  expect(sentenceOfState({ ...WELL, link, blobOnItsWay, alarms: [alarm('blob')] }).sentence).toContain('14 s');
  expect(sentenceOfState({ ...WELL, link: { ...link, live: false } }).severity).toBe('calm');
});

test('a zone that burns goes before everything', () => {
  const link = { ...WELL.link, silentForS: 14 };
  const alarms = [alarm('lineSilent'), alarm('zoneAboveAbsoluteLimit')];
  expect(sentenceOfState({ ...WELL, link, alarms }).sentence).toBe(
    'Something about zoneAboveAbsoluteLimit. And 1 more alarm.',
  );
});

test('when the line speaks again its alarm no longer says that it is silent', () => {
  const said = sentenceOfState({ ...WELL, alarms: [alarm('lineSilent')] });
  expect(said.severity).toBe('notice');
  expect(said.sentence).toMatch(/^The reading lines are back after a silence\. Winding: 41\.2 m/);
});

test('severity follows priority, and an acknowledged danger is abnormal', () => {
  const severity = (a: Alarm) => sentenceOfState({ ...WELL, alarms: [a] }).severity;
  expect(severity(alarm('strandLost'))).toBe('danger');
  expect(severity(alarm('strandLost', { state: 'acknowledged' }))).toBe('abnormal');
  expect(severity(alarm('lineGarbled'))).toBe('abnormal');
  expect(severity(alarm('deviceRestarted'))).toBe('notice');
  expect(severity(alarm('strandLost', { state: 'returnedUnacknowledged' }))).toBe('notice');
});

test('a heater that is lost is told before what follows from it, and what nobody has seen before what is answered', () => {
  const follows = [alarm('strandLost'), alarm('coldScrew')];
  const told = (...alarms: Alarm[]) => sentenceOfState({ ...WELL, alarms });
  const said = told(...follows, alarm('heaterFallingAway'));
  expect(said.sentence).toBe('Something about heaterFallingAway. And 2 more alarms.');
  expect(told(...follows).sentence).toBe('Something about strandLost. And 1 more alarm.');
  const answered = told(alarm('heaterFallingAway', { state: 'acknowledged' }), ...follows);
  expect(answered).toEqual({ sentence: 'Something about strandLost. And 2 more alarms.', severity: 'danger' });
  expect(told(alarm('lineGarbled'), alarm('heaterWeak'), ...follows).sentence).toContain('strandLost');
});

test('what is over but unseen is named, with what to do about it and how the line is now', () => {
  const over = (type: AlarmType, facts: Alarm['facts'] = {}) => alarm(type, { state: 'returnedUnacknowledged', facts });
  expect(sentenceOfState({ ...WELL, alarms: [over('strandLost')] }).sentence).toBe(
    'The alarm “Strand lost” is over: read it under Alarms, then press Acknowledge. Winding: 41.2 m on spool 1, 1.752 mm, all well.',
  );
  const zone = over('heaterNoRise', { zone: 2, zoneName: 'Die' });
  expect(sentenceOfState({ ...WELL, stage: 'stopped', alarms: [zone, over('blob')] }).sentence).toBe(
    '2 alarms are over, first of them “Zone 2 (Die): no rise”: read them under Alarms, then press Acknowledge. The line stands still.',
  );
});

test('before winding it says what is missing', () => {
  const missing = ['zone 2 at heat', 'soak for 6 min more'];
  expect(sentenceOfState({ ...WELL, stage: 'heating', missing }).sentence).toBe(
    'Heating up. Before winding: zone 2 at heat; soak for 6 min more.',
  );
  expect(sentenceOfState({ ...WELL, stage: 'purging' }).sentence).toBe('Purging: 1.752 mm, ready to wind.');
});

test('a link that is not open is no calm', () => {
  const link = {
    phase: 'waiting',
    text: 'Cannot open /dev/ttyUSB0: no such port',
    silentForS: null,
    live: true,
  } as const;
  expect(sentenceOfState({ ...WELL, stage: 'stopped', link })).toEqual({
    sentence: 'Not watching yet: Cannot open /dev/ttyUSB0: no such port.',
    severity: 'notice',
  });
});

test('unknown numbers are left out', () => {
  const said = sentenceOfState({ ...WELL, diameterMm: Number.NaN, woundMm: null, spoolOrdinal: null });
  expect(said.sentence).toBe('Winding: all well.');
});

test('a line that never said anything is not back after a silence', () => {
  const link = { ...WELL.link, phase: 'waiting', text: 'Cannot open it.', silentForS: null } as const;
  const silent = alarm('lineSilent');
  expect(sentenceOfState({ ...WELL, link, alarms: [silent] })).toEqual({
    sentence: silent.sentence,
    severity: 'danger',
  });
});

test('what is over but latched asks for its reset', () => {
  const facts = { zone: 2, zoneName: 'Die' };
  const latched = alarm('zoneAboveAbsoluteLimit', { state: 'latchedAcknowledged', facts });
  expect(sentenceOfState({ ...WELL, alarms: [latched] })).toEqual({
    sentence:
      'The alarm “Zone 2 (Die): above the limit” is over: see that the cause is gone, then press Reset. Winding: 41.2 m on spool 1, 1.752 mm, all well.',
    severity: 'notice',
  });
});

test('all well is never said of what cannot call', () => {
  const rests = [alarm('blob', { state: 'shelved' }), alarm('neck', { state: 'outOfService' })];
  expect(sentenceOfState({ ...WELL, suppressed: rests })).toEqual({
    sentence: 'Winding: 41.2 m on spool 1, 1.752 mm, all well. 1 alarm is shelved, 1 alarm is out of service.',
    severity: 'notice',
  });
  expect(sentenceOfState({ ...WELL, suppressed: [alarm('neck', { state: 'outOfService' })] }).severity).toBe('calm');
  expect(sentenceOfState({ ...WELL, suppressed: [alarm('neck', { state: 'suppressedByDesign' })] })).toEqual({
    sentence: 'Winding: 41.2 m on spool 1, 1.752 mm, all well.',
    severity: 'calm',
  });
});
