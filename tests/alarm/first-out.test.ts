import { describe, expect, test } from 'vitest';
import { ALARM_TYPES, type Alarm, type AlarmChange, type AlarmType, type Condition } from '../../server/alarm/alarm.ts';
import { AlarmEngine } from '../../server/alarm/alarm-engine.ts';
import { CATALOGUE, isOfZone } from '../../server/alarm/catalogue.ts';
import { causesOf, DANGERS, isSuppressedBySilence } from '../../server/alarm/first-out.ts';
import { headline } from '../../server/alarm/headline.ts';

const T0 = Date.UTC(2026, 1, 3, 22);
const at = (seconds: number) => T0 + seconds * 1000;
const fresh = () => new AlarmEngine({ standing: [], lastId: 0 });
const ADA = { name: 'Ada', from: null };
const condition = (type: AlarmType, active: boolean, zone = 2): Condition => ({
  type,
  subject: isOfZone(type) ? `zone ${zone}` : '',
  active,
  facts: isOfZone(type) ? { zone } : {},
});
function hold(engine: AlarmEngine, conditions: readonly Condition[], fromS: number, toS: number): AlarmChange[] {
  const changes: AlarmChange[] = [];
  for (let s = fromS; s < toS - 1e-9; s += 0.2) {
    for (const one of conditions) changes.push(...engine.observe(one, at(s)));
    changes.push(...engine.tick(at(s)));
  }
  return changes;
}
const stepsOf = (changes: readonly AlarmChange[]) => changes.map(({ step, alarm }) => `${step} ${alarm.type}`);
const types = (alarms: readonly Alarm[]) => alarms.map(({ type }) => type).toSorted();

describe('the line falls silent', () => {
  function silentWith(...standing: AlarmType[]): AlarmEngine {
    const engine = fresh();
    hold(
      engine,
      standing.map((type) => condition(type, true)),
      0,
      10,
    );
    hold(engine, [condition('lineSilent', true)], 10, 13);
    return engine;
  }

  test('suppresses all alarms that depend on the line, and says how many', () => {
    const engine = silentWith('sensorJumping', 'offTolerance', 'heaterLosingTemperature');
    expect(types(engine.standing())).toEqual(['lineSilent']);
    expect(types(engine.suppressed())).toEqual(['heaterLosingTemperature', 'offTolerance', 'sensorJumping']);
    expect(engine.suppressed()[0]?.suppression).toMatchObject({
      reason: 'while the line is silent',
      before: 'unacknowledged',
    });
    const { sentence, severity } = headline({
      stage: 'winding',
      missing: [],
      alarms: engine.standing(),
      suppressed: engine.suppressed(),
      spoolOrdinal: 1,
      woundMm: 1000,
      link: { phase: 'open', text: 'Reading.', silentForS: 12, live: true },
    });
    expect(sentence).toBe('No data for 12 s: nothing is being watched. 3 other alarms are on hold until data returns.');
    expect(severity).toBe('danger');
  });

  test('keeps fire hazards and a failing record active', () => {
    const engine = silentWith('heaterRisingWithoutPower', 'recordFailing', 'sensorJumping');
    expect(types(engine.standing())).toEqual(['heaterRisingWithoutPower', 'lineSilent', 'recordFailing']);
  });

  test('restores each alarm afterwards in the state it had', () => {
    const engine = fresh();
    hold(
      engine,
      [condition('sensorJumping', true), condition('heaterLosingTemperature', true), condition('neck', true)],
      0,
      10,
    );
    for (const { id, type } of engine.standing()) if (type === 'neck') engine.acknowledge(id, ADA, at(10));
    hold(engine, [condition('lineSilent', true)], 10, 20);
    const back = hold(
      engine,
      [
        condition('lineSilent', false),
        condition('sensorJumping', true),
        condition('heaterLosingTemperature', false),
        condition('neck', true),
      ],
      20,
      60,
    );
    expect(stepsOf(back).filter((one) => one.startsWith('unsuppressed'))).toHaveLength(3);
    const state = (type: AlarmType) => engine.standing().find((alarm) => alarm.type === type)?.state;
    expect(state('sensorJumping')).toBe('unacknowledged');
    expect(state('heaterLosingTemperature')).toBe('returnedUnacknowledged');
    expect(state('neck')).toBe('acknowledged');
  });

  test('a loose plug is one alarm; the others stay suppressed', () => {
    const engine = fresh();
    hold(engine, [condition('heaterLosingTemperature', true)], 0, 10);
    const changes = Array.from({ length: 12 }, (_, i) => [
      ...hold(engine, [condition('lineSilent', true)], 10 + i * 10, 14 + i * 10),
      ...hold(
        engine,
        [condition('lineSilent', false), condition('heaterLosingTemperature', true)],
        14 + i * 10,
        20 + i * 10,
      ),
    ]).flat();
    expect(stepsOf(changes)).toEqual(['raised lineSilent', 'suppressed heaterLosingTemperature']);
  });

  test('raises a new alarm at once when the line is back, before the silence alarm has returned', () => {
    const engine = silentWith('sensorJumping');
    const blob: Condition = { type: 'blob', subject: '', active: true, occurrence: 1, facts: { occurrence: 1 } };
    expect(stepsOf(hold(engine, [condition('lineSilent', false), blob], 14, 15))).toEqual(['raised blob']);
  });
});

describe('one cause in a zone, not twelve alarms', () => {
  test('an open sensor suppresses its consequences in the same zone only', () => {
    const engine = fresh();
    const all = [
      condition('sensorOpen', true),
      condition('heaterLosingTemperature', true),
      condition('zoneLate', true),
      condition('zoneDrifting', true),
      condition('zoneDrifting', true, 3),
    ];
    hold(engine, all, 0, 60);
    expect(
      engine
        .standing()
        .map(({ type, subject }) => `${type} ${subject}`)
        .toSorted(),
    ).toEqual(['sensorOpen zone 2', 'zoneDrifting zone 3']);
    expect(types(engine.suppressed())).toEqual(['heaterLosingTemperature', 'zoneDrifting', 'zoneLate']);
    expect(new Set(engine.suppressed().map(({ suppression }) => suppression?.reason))).toContain(
      'while its sensor is open',
    );
  });

  test('raises a consequence that outlasts its cause', () => {
    const engine = fresh();
    hold(engine, [condition('heaterLosingTemperature', true), condition('zoneDrifting', true)], 0, 60);
    expect(types(engine.standing())).toEqual(['heaterLosingTemperature']);
    const after = hold(engine, [condition('heaterLosingTemperature', false), condition('zoneDrifting', true)], 60, 120);
    expect(stepsOf(after)).toContain('raised zoneDrifting');
  });

  test('does not suppress an alarm that was raised before its cause', () => {
    const engine = fresh();
    hold(engine, [condition('zoneDrifting', true)], 0, 60);
    hold(engine, [condition('zoneDrifting', true), condition('heaterLosingTemperature', true)], 60, 90);
    expect(types(engine.standing())).toEqual(['heaterLosingTemperature', 'zoneDrifting']);
  });

  test('suppresses for a shelved cause, but not for one that is out of service', () => {
    const engine = fresh();
    engine.removeFromService('strandLost', '', 'the gauge is taken off', ADA, at(0));
    hold(engine, [condition('strandLost', true), condition('offTolerance', true)], 1, 10);
    expect(types(engine.standing())).toEqual(['offTolerance']);
    const other = fresh();
    hold(other, [condition('strandLost', true)], 0, 5);
    other.shelve(1, { forMin: 10, reason: '', runUnderWay: true }, ADA, at(5));
    hold(other, [condition('strandLost', true), condition('offTolerance', true)], 5, 20);
    expect(other.standing()).toEqual([]);
  });
});

describe('the table of causes', () => {
  test('never suppresses a fire hazard, and has no cycle', () => {
    const reaches = (from: AlarmType, seen: readonly AlarmType[] = []): readonly AlarmType[] =>
      causesOf(from).flatMap((cause) =>
        seen.includes(cause) ? [cause] : [cause, ...reaches(cause, [...seen, cause])],
      );
    for (const type of ALARM_TYPES) {
      if (DANGERS.has(type)) expect([causesOf(type), isSuppressedBySilence(type)]).toEqual([[], false]);
      expect(reaches(type)).not.toContain(type);
    }
  });

  test('silence suppresses all that depends on the line, except fire hazards', () => {
    const suppressed = ALARM_TYPES.filter(isSuppressedBySilence);
    expect(ALARM_TYPES.filter((type) => !suppressed.includes(type)).toSorted()).toEqual(
      [
        'lineSilent',
        'recordFailing',
        'diskFilling',
        'recordDamaged',
        'runDatedWrong',
        'keysGuessed',
        ...DANGERS,
      ].toSorted(),
    );
    expect(suppressed.every((type) => CATALOGUE[type].group !== 'record')).toBe(true);
  });
});
