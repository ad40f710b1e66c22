import { describe, expect, test } from 'vitest';
import { ALARM_TYPES, type AlarmType } from '../../server/alarm/alarm.ts';
import { AlarmEngine } from '../../server/alarm/alarm-engine.ts';
import {
  catalogueWith,
  checkAgainstLimits,
  checkAlarmSetting,
  OFF_DELAY_MAX_S,
} from '../../server/alarm/alarm-settings.ts';
import { CATALOGUE } from '../../server/alarm/catalogue.ts';

const LIMITS = { absoluteLimitC: 300 };
const check = (type: AlarmType, input: unknown) => checkAlarmSetting(type, input, LIMITS);

test('leaves out settings that are as in the catalogue', () => {
  for (const type of ALARM_TYPES) {
    const { priority, onDelayS, offDelayS, deadband, latching, consequence, firstCheck } = CATALOGUE[type];
    const same = { priority, onDelayS, offDelayS, latching, consequence, firstCheck };
    expect(check(type, deadband === null ? same : { ...same, deadband: deadband.value }), type).toEqual({});
  }
  expect(catalogueWith({})).toEqual(CATALOGUE);
});

test('applies what is set and keeps the rest', () => {
  const set = check('zoneAboveAbsoluteLimit', { deadband: 10, offDelayS: 120, firstCheck: '  Pull the red plug. ' });
  expect(set).toEqual({ deadband: 10, offDelayS: 120, firstCheck: 'Pull the red plug.' });
  const entry = catalogueWith({ zoneAboveAbsoluteLimit: set }).zoneAboveAbsoluteLimit;
  expect(entry).toEqual({
    ...CATALOGUE.zoneAboveAbsoluteLimit,
    offDelayS: 120,
    firstCheck: 'Pull the red plug.',
    deadband: { value: 10, unit: '°C' },
  });
  expect(catalogueWith({ zoneAboveAbsoluteLimit: set }).blob).toEqual(CATALOGUE.blob);
});

describe('refuses', () => {
  test.each<[AlarmType, unknown, RegExp]>([
    ['blob', { onDelayS: -2 }, /on-delay is -2 s, and an alarm cannot be raised before its cause/],
    ['blob', { offDelayS: -1 }, /off-delay is -1 s, and an alarm cannot return before its cause is gone/],
    ['blob', { onDelayS: 'soon' }, /on-delay is not a number/],
    ['blob', { onDelayS: Number.NaN }, /on-delay is not a number/],
    ['blob', { onDelayS: 601 }, /unwatched for too long/],
    ['blob', { offDelayS: OFF_DELAY_MAX_S + 1 }, /unwatched for too long/],
    ['zoneAboveAbsoluteLimit', { onDelayS: 60 }, /unwatched for too long/],
    ['blob', { deadband: 3 }, /its condition has no measured value/],
    ['lineGarbled', { deadband: -1 }, /“-1” is not a deadband/],
    [
      'lineGarbled',
      { deadband: 12 },
      /a deadband of 12 is too wide: raised above 10 % of the lines, it would return only at -2/,
    ],
    ['zoneAboveAbsoluteLimit', { deadband: 280 }, /raised above 300 °C, it would return only at 20 °C/],
    ['blob', { priority: 'urgent' }, /“urgent” is not a priority/],
    ['zoneAboveAbsoluteLimit', { priority: 'low' }, /the priority must stay high/],
    ['blob', { latching: 'yes' }, /neither true nor false/],
    ['blob', { firstCheck: '   ' }, /the first check is missing or too long/],
    ['blob', { consequence: 'x'.repeat(301) }, /the consequence is missing or too long/],
    ['blob', { colour: 'red' }, /no setting “colour”/],
    ['blob', { toString: 1 }, /no setting “toString”/],
    ['blob', [1], /not a JSON object/],
    ['blob', null, /not a JSON object/],
  ])('%s %j', (type, input, text) => {
    expect(() => check(type, input)).toThrow(text);
    expect(() => check(type, input)).toThrow(expect.objectContaining({ code: 'bad-setting' }));
    expect(() => check(type, input)).toThrow(new RegExp(`“${CATALOGUE[type].title}”`));
  });

  test('accepts the widest deadband that can still return', () => {
    expect(check('lineGarbled', { deadband: 10 })).toEqual({ deadband: 10 });
    expect(check('zoneAboveAbsoluteLimit', { deadband: 260 })).toEqual({ deadband: 260 });
  });

  test('a limit of the line that an existing deadband does not allow', () => {
    const settings = { zoneAboveAbsoluteLimit: { deadband: 200 } };
    expect(() => checkAgainstLimits(settings, { absoluteLimitC: 300 })).not.toThrow();
    expect(() => checkAgainstLimits(settings, { absoluteLimitC: 220 })).toThrow(/would return only at 20 °C/);
  });
});

test('applies new settings at once, also to existing alarms', () => {
  const engine = new AlarmEngine({ standing: [], lastId: 0 });
  const silent = { type: 'lineSilent', subject: '', active: true, facts: {} } as const;
  engine.observe(silent, 0);
  engine.useCatalogue(
    catalogueWith({ lineSilent: { priority: 'medium', firstCheck: 'Look at the plug.', offDelayS: 5 } }),
  );
  expect(engine.standing()).toMatchObject([{ priority: 'medium', firstCheck: 'Look at the plug.' }]);
  engine.observe({ ...silent, active: false }, 1000);
  expect(engine.tick(6000)).toMatchObject([{ step: 'returned' }]);
  engine.useCatalogue(catalogueWith({ blob: { onDelayS: 3 } }));
  const blob = { type: 'blob', subject: '', active: true, occurrence: 1, facts: {} } as const;
  expect(engine.observe(blob, 10_000)).toEqual([]);
  expect(engine.tick(13_000)).toMatchObject([{ step: 'raised' }]);
});
