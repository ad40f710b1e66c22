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
const check = (type: AlarmType, given: unknown) => checkAlarmSetting(type, given, LIMITS);

test('what is as the catalogue has it is no setting', () => {
  for (const type of ALARM_TYPES) {
    const { priority, onDelayS, offDelayS, deadband, latching, consequence, firstCheck } = CATALOGUE[type];
    const same = { priority, onDelayS, offDelayS, latching, consequence, firstCheck };
    expect(check(type, deadband === null ? same : { ...same, deadband: deadband.value }), type).toEqual({});
  }
  expect(catalogueWith({})).toEqual(CATALOGUE);
});

test('what is set holds, and the rest stays', () => {
  const set = check('zoneAboveAbsoluteLimit', { deadband: 10, offDelayS: 120, firstCheck: '  Pull the red plug. ' });
  expect(set).toEqual({ deadband: 10, offDelayS: 120, firstCheck: 'Pull the red plug.' });
  const entry = catalogueWith({ zoneAboveAbsoluteLimit: set }).zoneAboveAbsoluteLimit;
  expect(entry).toEqual({
    ...CATALOGUE.zoneAboveAbsoluteLimit,
    offDelayS: 120,
    firstCheck: 'Pull the red plug.',
    deadband: { value: 10, unit: 'K' },
  });
  expect(catalogueWith({ zoneAboveAbsoluteLimit: set }).blob).toEqual(CATALOGUE.blob);
});

describe('is refused in words', () => {
  test.each<[AlarmType, unknown, RegExp]>([
    ['blob', { onDelayS: -2 }, /on-delay is -2 s, and an alarm cannot come before its cause/],
    ['blob', { offDelayS: -1 }, /off-delay is -1 s, and an alarm cannot return before its cause is gone/],
    ['blob', { onDelayS: 'soon' }, /on-delay is no number/],
    ['blob', { onDelayS: Number.NaN }, /on-delay is no number/],
    ['blob', { onDelayS: 601 }, /unwatched for too long/],
    ['blob', { offDelayS: OFF_DELAY_MAX_S + 1 }, /unwatched for too long/],
    ['zoneAboveAbsoluteLimit', { onDelayS: 60 }, /unwatched for too long/],
    ['blob', { deadband: 3 }, /no measure, so it can have no deadband/],
    ['lineGarbled', { deadband: -1 }, /a deadband of -1 is none/],
    [
      'lineGarbled',
      { deadband: 12 },
      /raised above 10 % of the lines and with a deadband of 12 would return only at -2/,
    ],
    ['zoneAboveAbsoluteLimit', { deadband: 280 }, /raised above 300 °C .* would return only at 20 °C/],
    ['blob', { priority: 'urgent' }, /“urgent” is not a priority/],
    ['zoneAboveAbsoluteLimit', { priority: 'low' }, /what may burn keeps the high priority/],
    ['blob', { latching: 'yes' }, /neither yes nor no/],
    ['blob', { firstCheck: '   ' }, /does not say what to check first/],
    ['blob', { consequence: 'x'.repeat(301) }, /does not say what happens/],
    ['blob', { colour: 'red' }, /nothing called “colour”/],
    ['blob', { toString: 1 }, /nothing called “toString”/],
    ['blob', [1], /not an object/],
    ['blob', null, /not an object/],
  ])('%s %j', (type, given, text) => {
    expect(() => check(type, given)).toThrow(text);
    expect(() => check(type, given)).toThrow(expect.objectContaining({ code: 'bad-setting' }));
    expect(() => check(type, given)).toThrow(new RegExp(`“${CATALOGUE[type].title}”`));
  });

  test('the widest deadband that still returns is taken', () => {
    expect(check('lineGarbled', { deadband: 10 })).toEqual({ deadband: 10 });
    expect(check('zoneAboveAbsoluteLimit', { deadband: 260 })).toEqual({ deadband: 260 });
  });

  test('a limit of the line that is lowered below a deadband', () => {
    const settings = { zoneAboveAbsoluteLimit: { deadband: 200 } };
    expect(() => checkAgainstLimits(settings, { absoluteLimitC: 300 })).not.toThrow();
    expect(() => checkAgainstLimits(settings, { absoluteLimitC: 220 })).toThrow(/would return only at 20 °C/);
  });
});

test('a new setting counts at once, for what stands too', () => {
  const engine = new AlarmEngine({ standing: [], lastId: 0 });
  const silent = { type: 'lineSilent', subject: '', active: true, facts: {} } as const;
  engine.observe(silent, 0);
  engine.useCatalogue(
    catalogueWith({ lineSilent: { priority: 'medium', firstCheck: 'Look at the plug.', offDelayS: 5 } }),
  );
  expect(engine.standing()).toMatchObject([{ priority: 'medium', firstCheck: 'Look at the plug.' }]);
  engine.observe({ ...silent, active: false }, 1000);
  expect(engine.tick(6000)).toMatchObject([{ what: 'returned' }]);
  engine.useCatalogue(catalogueWith({ blob: { onDelayS: 3 } }));
  const blob = { type: 'blob', subject: '', active: true, occurrence: 1, facts: {} } as const;
  expect(engine.observe(blob, 10_000)).toEqual([]);
  expect(engine.tick(13_000)).toMatchObject([{ what: 'raised' }]);
});
