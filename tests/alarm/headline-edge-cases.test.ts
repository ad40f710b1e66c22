import { describe, expect, test } from 'vitest';
import type { Alarm } from '../../server/alarm/alarm.ts';
import { headline, type StateOfLine } from '../../server/alarm/headline.ts';
import { ALL_WATCHED } from '../../server/alarm/unwatched.ts';
import { alarm, WELL } from './well-line.ts';

const OPEN = { phase: 'open', text: 'Reading.', silentForS: 0.02, live: true } as const;
const state = (over: Partial<StateOfLine>) => headline({ ...WELL, ...over });
const sentence = (over: Partial<StateOfLine>) => state(over).sentence;
const suppressedBy = (before: Alarm['state']): Partial<Alarm> => ({
  state: 'suppressedByDesign',
  suppression: {
    reason: '',
    sinceMs: 0,
    untilMs: null,
    untilRunEnds: false,
    by: null,
    from: null,
    occurred: 0,
    before,
  },
});

describe('a blob on its way', () => {
  const blobOnItsWay = { diameterMm: 2.31 };
  const blob = /^Blob of 2\.31 mm/;

  test('comes first while nothing worse is active', () => {
    expect(sentence({ blobOnItsWay })).toMatch(blob);
    expect(sentence({ blobOnItsWay, alarms: [alarm('neck')] })).toMatch(blob);
    expect(sentence({ blobOnItsWay, alarms: [alarm('strandLost')] })).toMatch(/^Something about strandLost/);
  });

  test('is only possible where it is in doubt, and then no danger', () => {
    const possible = { ...blobOnItsWay, inDoubt: true };
    expect(state({ blobOnItsWay: possible, alarms: [alarm('blobInDoubt')] })).toEqual({
      sentence: 'Possible blob of 2.31 mm on its way to the winder.',
      severity: 'abnormal',
      brief: 'Possible blob',
      alarmId: 1,
    });
    expect(sentence({ blobOnItsWay: possible, alarms: [alarm('neck')] })).toMatch(/^Possible blob/);
    expect(sentence({ blobOnItsWay: possible, alarms: [alarm('blob')] })).toMatch(/^Something about blob/);
  });
});

test('names the alarm that it is about among others', () => {
  const others = [alarm('neck', { id: 3 }), alarm('lineSilent', { id: 7 }), alarm('blob', { id: 4 })];
  expect(state({ link: { ...OPEN, silentForS: 9 }, alarms: others }).alarmId).toBe(7);
  expect(state({ link: { ...OPEN, silentForS: 9 } }).alarmId).toBeNull();
  const blobOnItsWay = { diameterMm: 2.31 };
  expect(state({ blobOnItsWay, alarms: others })).toMatchObject({ alarmId: 4, brief: 'Blob +1' });
  expect(state({ blobOnItsWay, alarms: [alarm('neck')] })).toMatchObject({ alarmId: null, brief: 'Blob +1' });
});

describe('the link', () => {
  test('that has ended says so, also where the strand was not watched', () => {
    const link = { ...OPEN, phase: 'ended' } as const;
    const unwatched = { ...ALL_WATCHED, strand: 'No diameter arrives.' };
    expect(state({ link })).toMatchObject({ sentence: 'The recorded readings have ended.', severity: 'notice' });
    expect(sentence({ link, unwatched })).toBe('The recorded readings have ended.');
    expect(sentence({ unwatched })).toBe('No diameter arrives.');
  });

  test.each(['ended', 'closed'] as const)('that is %s is not silent', (phase) => {
    expect(sentence({ link: { ...OPEN, phase, silentForS: 99 } })).not.toMatch(/No data/);
  });

  test('is silent from three seconds on, and never before the first line', () => {
    expect(sentence({ link: { ...OPEN, silentForS: 3 } })).toMatch(/^No data for 3 s/);
    expect(sentence({ link: { ...OPEN, silentForS: 2.9 } })).toMatch(/^Winding/);
    expect(sentence({ link: { ...OPEN, silentForS: null } })).toMatch(/^Winding/);
  });

  test('counts the alarms that wait while it is silent, and no others', () => {
    const link = { ...OPEN, silentForS: 9 };
    const waiting = alarm('neck', suppressedBy('unacknowledged'));
    expect(sentence({ link, suppressed: [waiting] })).toMatch(/ 1 other alarm is on hold until data returns\.$/);
    expect(sentence({ link, suppressed: [waiting, waiting] })).toMatch(
      / 2 other alarms are on hold until data returns\.$/,
    );
    const others = [
      alarm('neck', suppressedBy('returnedUnacknowledged')),
      alarm('neck', { ...suppressedBy('unacknowledged'), state: 'shelved' }),
      alarm('neck', { state: 'suppressedByDesign' }),
    ];
    expect(sentence({ link, suppressed: others })).toBe('No data for 9 s: nothing is being watched.');
  });

  test('that waits is quoted with one full stop', () => {
    const waiting = (text: string) => sentence({ link: { ...OPEN, phase: 'waiting', silentForS: null, text } });
    expect(waiting(' The port v1.2 is busy ')).toBe('Not watching yet: The port v1.2 is busy.');
    expect(waiting('Is it plugged in?')).toBe('Not watching yet: Is it plugged in?');
  });

  test('brings the first line only to a stopped line', () => {
    const link = { ...OPEN, silentForS: null };
    expect(sentence({ link, stage: 'stopped' })).toBe('Waiting for the first reading.');
    expect(sentence({ link, stage: 'heating' })).toBe('At temperature.');
  });

  test('that never sent anything is reported by its own alarm', () => {
    const link = { ...OPEN, phase: 'waiting', silentForS: null } as const;
    const alarms = [alarm('lineSilent', { sentence: 'Nothing came.' })];
    expect(sentence({ link, alarms })).toBe('Nothing came.');
    expect(sentence({ alarms })).toMatch(/^Data is back after a gap\. Winding/);
  });
});

describe('alarms that are over or silenced', () => {
  test('only latched ones ask for a reset', () => {
    const acknowledged = alarm('neck', { state: 'latchedAcknowledged' });
    expect(sentence({ alarms: [acknowledged, acknowledged] })).toMatch(
      /^2 alarms have cleared\. Check that the cause is fixed, then press Reset\./,
    );
    expect(sentence({ alarms: [alarm('neck', { state: 'normal' })] })).toMatch(/all well\.$/);
  });

  test('several are counted, and none of the others is', () => {
    const shelved = alarm('neck', { state: 'shelved' });
    expect(sentence({ suppressed: [shelved, shelved] })).toMatch(/no fault seen now\. 2 alarms are silenced\.$/);
    const out = alarm('neck', { state: 'outOfService' });
    expect(sentence({ suppressed: [out] })).toMatch(/no fault seen now\. 1 alarm is out of service\.$/);
  });

  test('one active alarm stands alone', () => {
    expect(sentence({ alarms: [alarm('neck')] })).toBe('Something about neck.');
  });
});

describe('the stage', () => {
  test('heating says that all zones are at temperature only if every zone is watched', () => {
    expect(sentence({ stage: 'heating' })).toBe('At temperature.');
    const unwatched = { ...ALL_WATCHED, heatInPart: 'No power arrives from Die: more.' };
    expect(sentence({ stage: 'heating', unwatched })).toBe('Heating up. No power arrives from Die: more.');
    expect(sentence({ stage: 'heating', unwatched, missing: ['a', 'b'] })).toBe(
      'Heating up. Before winding: a, b. No power arrives from Die: more.',
    );
  });

  test('stopped warns of strand that moves', () => {
    expect(sentence({ stage: 'stopped', strandMoves: true })).toMatch(/^Marked as stopped, but strand is moving/);
    expect(sentence({ stage: 'stopped', strandMoves: false })).toBe('The line is standing still.');
  });

  test('winding names the zones that are not at their set-point, which are no matter at other stages', () => {
    const offHeat = ['die is 6 °C below its set-point', 'melt zone is 3 °C above its set-point'];
    const zones = 'Die is 6 °C below its set-point, melt zone is 3 °C above its set-point.';
    expect(state({ offHeat })).toMatchObject({
      sentence: `Winding spool 1: 41 m, the strand is fine. ${zones}`,
      severity: 'notice',
    });
    const unwatched = { ...ALL_WATCHED, heatInPart: 'No power arrives from Die.' };
    expect(sentence({ offHeat, unwatched })).toBe(
      `Winding spool 1: 41 m, no fault seen in the strand now. ${zones} No power arrives from Die.`,
    );
    expect(state({ offHeat, stage: 'stopped' })).toMatchObject({
      sentence: 'The line is standing still.',
      severity: 'calm',
    });
  });

  test('winding leaves out what is not known', () => {
    expect(sentence({ spoolOrdinal: null })).toBe('Winding: 41 m, all well.');
    expect(sentence({ woundMm: null })).toBe('Winding spool 1, all well.');
  });

  test('has a few words for the page title', () => {
    const brief = (over: Partial<StateOfLine>) => state(over).brief;
    const ended = { ...OPEN, phase: 'ended' } as const;
    expect([brief({ link: ended }), brief({ link: { ...OPEN, phase: 'waiting' } })]).toEqual([
      'Recording ended',
      'No data yet',
    ]);
    expect([999, 1000, null].map((woundMm) => brief({ woundMm }))).toEqual([
      'Winding less than 1 m',
      'Winding 1 m',
      'Winding',
    ]);
    const purging = { stage: 'purging' } as const;
    expect([brief(purging), brief({ ...purging, missing: ['a'] }), brief({ stage: 'stopped' })]).toEqual([
      'Ready to wind',
      'Purging',
      'Stopped',
    ]);
  });

  test('purging asks for a speed once nothing else is missing', () => {
    const unwatched = { ...ALL_WATCHED, places: 'Places on the spool are unknown.' };
    expect(sentence({ stage: 'purging', unwatched })).toBe('Purging: ready to wind. Places on the spool are unknown.');
    expect(sentence({ stage: 'purging', unwatched, missing: ['a'] })).toBe('Purging. Before winding: a.');
    expect(sentence({ stage: 'heating', unwatched })).toBe('At temperature.');
  });
});
