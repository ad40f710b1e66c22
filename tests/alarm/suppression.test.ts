import { describe, expect, test } from 'vitest';
import type { Alarm, AlarmChange, Condition, Person } from '../../server/alarm/alarm.ts';
import { AlarmEngine } from '../../server/alarm/alarm-engine.ts';
import { alertsPeople } from '../../server/alarm/life-cycle.ts';
import { longestShelfMin } from '../../server/alarm/shelving.ts';

const T0 = Date.UTC(2026, 1, 3, 22);
const at = (seconds: number) => T0 + seconds * 1000;
const fresh = (standing: readonly Alarm[] = []) => new AlarmEngine({ standing, lastId: 0 });
const ADA: Person = { name: 'Ada', from: '192.168.1.20, Android phone' };
const stepsOf = (changes: readonly AlarmChange[]) => changes.map(({ step }) => step);
const states = (alarms: readonly Alarm[]) => alarms.map(({ type, state }) => `${type} ${state}`);

const open = (active: boolean, zone = 2): Condition => ({
  type: 'sensorOpen',
  subject: `zone ${zone}`,
  active,
  facts: { zone },
});
const over = (active: boolean): Condition => ({
  type: 'zoneAboveAbsoluteLimit',
  subject: 'zone 2',
  active,
  excess: active ? 5 : -50,
  facts: { zone: 2, temperatureC: 305, limitC: 300 },
});
const blob = (occurrence: number): Condition => ({
  type: 'blob',
  subject: '',
  active: true,
  occurrence,
  facts: { occurrence, diameterMm: 2 + occurrence / 100 },
});
const noBlob: Condition = { type: 'blob', subject: '', active: false, facts: {} };

function hold(engine: AlarmEngine, condition: Condition, fromS: number, toS: number): AlarmChange[] {
  const changes: AlarmChange[] = [];
  for (let s = fromS; s < toS - 1e-9; s += 0.2)
    changes.push(...engine.observe(condition, at(s)), ...engine.tick(at(s)));
  return changes;
}
const shelving = (forMin: number | null, reason = '') => ({ forMin, reason, runUnderWay: true });

describe('a shelved alarm', () => {
  test('is restored in time although the clock was ahead when it was shelved', () => {
    const engine = fresh();
    const years = 5 * 365 * 86_400;
    hold(engine, open(true), years, years + 3);
    engine.shelve(1, shelving(10), ADA, at(years + 3));
    // The clock is corrected, here by a restart.
    const next = fresh(engine.suppressed());
    expect(next.suppressed()).toMatchObject([{ suppression: { untilMs: at(years + 603) } }]);
    expect(next.tick(at(0))).toEqual([]);
    expect(next.suppressed()).toMatchObject([{ suppression: { untilMs: at(600) } }]);
    expect(next.tick(at(599))).toEqual([]);
    expect(next.tick(at(601))).toMatchObject([{ step: 'unshelved', reason: 'the time is over' }]);
  });

  test('is restored when its time is over', () => {
    const engine = fresh();
    hold(engine, open(true), 0, 3);
    const shelved = engine.shelve(1, shelving(10, 'the plug is being repaired'), ADA, at(3));
    expect(shelved).toMatchObject({ step: 'shelved', by: 'Ada', from: ADA.from, reason: 'the plug is being repaired' });
    expect(shelved.alarm).toMatchObject({ state: 'shelved', suppression: { untilMs: at(603), by: 'Ada' } });
    expect(engine.standing()).toEqual([]);
    expect(states(engine.suppressed())).toEqual(['sensorOpen shelved']);
    expect(hold(engine, open(true), 3, 602)).toEqual([]);
    const back = engine.tick(at(603));
    expect(back).toMatchObject([
      { step: 'unshelved', by: null, reason: 'the time is over', alarm: { id: 1, suppression: null } },
    ]);
    expect(back.every(alertsPeople)).toBe(true);
    expect(states(engine.standing())).toEqual(['sensorOpen unacknowledged']);
  });

  test('becomes normal if its cause is gone by then', () => {
    const engine = fresh();
    hold(engine, open(true), 0, 3);
    engine.shelve(1, shelving(1), ADA, at(3));
    hold(engine, open(false), 4, 60);
    const back = engine.tick(at(63));
    expect(back).toMatchObject([{ step: 'unshelved', alarm: { state: 'normal' } }]);
    expect(back.some(alertsPeople)).toBe(false);
    expect([...engine.standing(), ...engine.suppressed()]).toEqual([]);
  });

  test('counts occurrences without notifying anyone', () => {
    const engine = fresh();
    engine.observe(blob(1), at(0));
    engine.shelve(1, shelving(10), ADA, at(1));
    const changes = [2, 3, 4].flatMap((n) => [...engine.observe(blob(n), at(n * 30)), ...engine.tick(at(n * 30))]);
    expect(changes).toEqual([]);
    expect(engine.suppressed()[0]).toMatchObject({ occurrences: 4, suppression: { occurred: 3 } });
    expect(engine.suppressed()[0]?.sentence).toContain('4 blobs');
    engine.observe(noBlob, at(200));
    expect(engine.tick(at(601))).toMatchObject([{ step: 'unshelved', alarm: { state: 'normal' } }]);
  });

  test('must be acknowledged again although it was acknowledged before', () => {
    const engine = fresh();
    hold(engine, open(true), 0, 3);
    engine.acknowledge(1, ADA, at(3));
    engine.shelve(1, shelving(1), ADA, at(4));
    expect(engine.tick(at(64))).toMatchObject([{ alarm: { state: 'unacknowledged', acknowledgedBy: null } }]);
  });

  test('is restored by a user, or when the run ends', () => {
    const engine = fresh();
    hold(engine, open(true, 1), 0, 3);
    hold(engine, open(true, 2), 0, 3);
    engine.shelve(1, shelving(60), ADA, at(3));
    engine.shelve(2, shelving(null), ADA, at(3));
    expect(engine.unshelve(1, ADA, at(10))).toMatchObject({ step: 'unshelved', by: 'Ada' });
    expect(engine.runEnded(at(20))).toMatchObject([
      { step: 'unshelved', reason: 'the run has ended', alarm: { id: 2 } },
    ]);
    expect(engine.runEnded(at(21))).toEqual([]);
  });

  test('can be shelved again for another time', () => {
    const engine = fresh();
    hold(engine, open(true), 0, 3);
    engine.shelve(1, shelving(10), ADA, at(3));
    engine.shelve(1, shelving(60), ADA, at(100));
    expect(hold(engine, open(true), 600, 610)).toEqual([]);
    expect(engine.suppressed()[0]?.suppression?.untilMs).toBe(at(3700));
  });

  test('survives a restart, and is restored at once if its time is over by then', () => {
    const engine = fresh();
    hold(engine, open(true), 0, 3);
    engine.shelve(1, shelving(10), ADA, at(3));
    const before = fresh(engine.suppressed());
    expect(before.suppressed()).toEqual(engine.suppressed());
    expect(hold(before, open(true), 100, 200)).toEqual([]);
    const after = fresh(engine.suppressed());
    expect(stepsOf(after.observe(open(true), at(700)))).toEqual(['unshelved']);
    // Whether its cause still holds is unknown at first; if it does, a new alarm is raised.
    expect(stepsOf(hold(after, open(true), 700, 703))).toEqual(['raised']);
  });

  test('stays latched if it latches and occurred while shelved', () => {
    const engine = fresh();
    hold(engine, over(true), 0, 3);
    engine.shelve(1, shelving(5), ADA, at(3));
    hold(engine, over(false), 4, 60);
    expect(engine.tick(at(303))).toMatchObject([{ step: 'unshelved', alarm: { state: 'latchedUnacknowledged' } }]);
  });

  test.each([
    [{ ...shelving(0) }, 'bad-shelving', /cannot be silenced for 0 min/],
    [{ ...shelving(-10) }, 'bad-shelving', /-10 min/],
    [{ ...shelving(Number.NaN) }, 'bad-shelving', /NaN/],
    [{ ...shelving(24 * 60 + 1) }, 'bad-shelving', /longest time is 1440 min/],
    [{ ...shelving(null), runUnderWay: false }, 'wrong-state', /No run is in progress/],
  ])('is refused: %j', (request, code, text) => {
    const engine = fresh();
    hold(engine, open(true), 0, 3);
    const shelve = () => engine.shelve(1, request, ADA, at(4));
    expect(shelve).toThrow(text);
    expect(shelve).toThrow(expect.objectContaining({ code }));
    expect(states(engine.standing())).toEqual(['sensorOpen unacknowledged']);
  });

  test('can be shelved for ten minutes at most if it warns of fire, and not until the run ends', () => {
    const engine = fresh();
    hold(engine, over(true), 0, 3);
    expect(longestShelfMin('zoneAboveAbsoluteLimit')).toBe(10);
    expect(() => engine.shelve(1, shelving(11), ADA, at(4))).toThrow(/longest time is 10 min/);
    expect(() => engine.shelve(1, shelving(null), ADA, at(4))).toThrow(/until the run ends/);
    expect(engine.shelve(1, shelving(10), ADA, at(4)).alarm.state).toBe('shelved');
  });
});

describe('an alarm out of service', () => {
  test('notifies no one until a user returns it, and keeps who took it out and why', () => {
    const engine = fresh();
    const out = engine.removeFromService('sensorOpen', 'zone 2', 'no sensor fitted', ADA, at(0));
    expect(out).toMatchObject({ step: 'outOfService', by: 'Ada', reason: 'no sensor fitted' });
    expect(out.alarm).toMatchObject({ state: 'outOfService', occurrences: 0, facts: { zone: 2 } });
    expect(out.alarm.sentence).toContain('none so far');
    expect(hold(engine, open(true), 1, 3000)).toEqual([]);
    expect(engine.runEnded(at(3000))).toEqual([]);
    expect(engine.suppressed()[0]).toMatchObject({
      occurrences: 1,
      suppression: { occurred: 1, reason: 'no sensor fitted' },
    });
    const back = engine.returnToService(out.alarm.id, ADA, at(3001));
    expect(back).toMatchObject({ step: 'returnedToService', alarm: { state: 'unacknowledged' } });
  });

  test('does not affect the same alarm of another zone', () => {
    const engine = fresh();
    engine.removeFromService('sensorOpen', 'zone 2', 'no sensor fitted', ADA, at(0));
    expect(stepsOf(hold(engine, open(true, 3), 1, 3))).toEqual(['raised']);
  });

  test('cannot be shelved, acknowledged or taken out twice, nor taken out without a reason', () => {
    const engine = fresh();
    const { alarm } = engine.removeFromService('blob', '', 'trials with a trimmer line', ADA, at(0));
    expect(() => engine.shelve(alarm.id, shelving(10), ADA, at(1))).toThrow(/is out of service \(trials/);
    expect(() => engine.acknowledge(alarm.id, ADA, at(1))).toThrow(/out of service/);
    expect(() => engine.removeFromService('blob', '', 'again', ADA, at(1))).toThrow(/out of service/);
    expect(() => engine.unshelve(alarm.id, ADA, at(1))).toThrow(/not silenced/);
    expect(() => engine.removeFromService('neck', '', '  ', ADA, at(1))).toThrow(/No reason was given/);
  });

  test('stays out of service after a restart', () => {
    const engine = fresh();
    engine.removeFromService('sensorOpen', 'zone 2', 'no sensor fitted', ADA, at(0));
    const after = fresh(engine.suppressed());
    expect(hold(after, open(true), 1, 100)).toEqual([]);
    expect(states(after.suppressed())).toEqual(['sensorOpen outOfService']);
  });
});

describe('suppressed by design', () => {
  test('takes one step at the start and one at the end of purging, however many blobs pass', () => {
    const engine = fresh();
    engine.setStage('purging');
    const changes = Array.from({ length: 40 }, (_, i) => [
      ...engine.observe(blob(i + 1), at(i * 20)),
      ...hold(engine, noBlob, i * 20 + 5, i * 20 + 20),
    ]).flat();
    expect(stepsOf(changes)).toEqual(['suppressed']);
    expect(changes[0]).toMatchObject({ by: null, reason: 'while purging', alarm: { state: 'suppressedByDesign' } });
    expect(engine.standing()).toEqual([]);
    expect(engine.suppressed()[0]).toMatchObject({ occurrences: 40 });
    engine.setStage('winding');
    const end = engine.tick(at(900));
    // Why it was suppressed is in the entry before.
    expect(end).toMatchObject([{ step: 'unsuppressed', reason: '', alarm: { state: 'normal' } }]);
    expect(end.some(alertsPeople)).toBe(false);
  });

  test('raises a blob that is still on its way when winding starts, and counts it once', () => {
    const engine = fresh();
    engine.setStage('purging');
    for (let n = 1; n <= 3; n++) engine.observe(blob(n), at(n));
    engine.setStage('winding');
    const changes = [...engine.observe(blob(3), at(5)), ...engine.tick(at(5))];
    expect(changes).toMatchObject([
      { step: 'raised', alarm: { state: 'unacknowledged', occurrences: 1, raisedMs: at(5) } },
    ]);
    expect(changes.every(alertsPeople)).toBe(true);
  });

  test('does not silence an existing alarm when winding ends', () => {
    const engine = fresh();
    engine.setStage('winding');
    engine.observe(blob(1), at(0));
    engine.setStage('stopped');
    expect(stepsOf(hold(engine, blob(1), 1, 100))).toEqual(['returned']);
    expect(states(engine.standing())).toEqual(['blob returnedUnacknowledged']);
    expect(hold(engine, blob(2), 100, 200)).toEqual([]);
    expect(states(engine.standing())).toEqual(['blob returnedUnacknowledged']);
  });

  test('returns a minute after winding has ended, however long its off-delay is', () => {
    const engine = fresh();
    const uneven: Condition = { type: 'offTolerance', subject: '', active: true, facts: {} };
    engine.setStage('winding');
    engine.observe(uneven, at(0));
    engine.setStage('stopped');
    expect(hold(engine, { ...uneven, active: false }, 1, 60)).toEqual([]);
    expect(hold(engine, { ...uneven, active: false }, 60, 62)).toMatchObject([{ step: 'returned' }]);
  });

  test('can be shelved by a user', () => {
    const engine = fresh();
    engine.setStage('purging');
    engine.observe(blob(1), at(0));
    engine.shelve(1, shelving(10), ADA, at(1));
    expect(states(engine.suppressed())).toEqual(['blob shelved']);
    const back = hold(engine, blob(1), 2, 602);
    expect(back).toMatchObject([
      { step: 'unshelved', alarm: { state: 'suppressedByDesign', suppression: { by: null } } },
    ]);
  });
});

test('raises an alarm after its delay although its condition started while the clock was ahead', () => {
  const engine = fresh();
  const years = 5 * 365 * 86_400;
  expect(engine.observe(open(true), at(years))).toEqual([]);
  expect(hold(engine, open(true), 0, 3)).toMatchObject([{ step: 'raised' }]);
});

describe('a silence that is intended', () => {
  const RELEASED = 'while the port is released';
  const silent = (active: boolean, intended?: string): Condition => ({
    type: 'lineSilent',
    subject: '',
    active,
    facts: { forS: 5 },
    ...(intended === undefined ? {} : { intended }),
  });

  test('is suppressed by design and notifies no one, and so are the alarms that depend on lines', () => {
    const engine = fresh();
    hold(engine, open(true), 0, 3);
    const changes = [...hold(engine, silent(true, RELEASED), 3, 60), ...hold(engine, open(true), 60, 61)];
    expect(stepsOf(changes)).toEqual(['suppressed', 'suppressed']);
    expect(changes.map(({ reason }) => reason)).toEqual([RELEASED, RELEASED]);
    expect(engine.standing()).toEqual([]);
    const back = hold(engine, silent(false), 61, 62);
    expect(states(engine.standing())).toEqual(['sensorOpen unacknowledged']);
    expect(back.filter(alertsPeople).map(({ alarm }) => alarm.type)).toEqual(['sensorOpen']);
  });

  test('does not suppress a danger of fire', () => {
    const engine = fresh();
    hold(engine, over(true), 0, 3);
    hold(engine, silent(true, RELEASED), 3, 30);
    expect(states(engine.standing())).toEqual(['zoneAboveAbsoluteLimit unacknowledged']);
  });

  test('silences an alarm that stands already, and lets it return afterwards', () => {
    const engine = fresh();
    hold(engine, silent(true), 0, 3);
    hold(engine, silent(true, RELEASED), 3, 30);
    expect(states(engine.suppressed())).toEqual(['lineSilent suppressedByDesign']);
    hold(engine, silent(false), 30, 31);
    expect(states(engine.standing())).toEqual(['lineSilent returnedUnacknowledged']);
    // Releasing the port again is no occurrence.
    expect(hold(engine, silent(true, RELEASED), 31, 40)).toEqual([]);
  });

  test('is raised if it lasts longer than intended', () => {
    const engine = fresh();
    hold(engine, silent(true, RELEASED), 0, 30);
    const raised = hold(engine, silent(true), 30, 31);
    expect(stepsOf(raised)).toEqual(['raised']);
    expect(raised.every(alertsPeople)).toBe(true);
  });
});
