import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  ALARM_STATES,
  type Alarm,
  type AlarmChange,
  type AlarmState,
  type AlarmStep,
  type Condition,
  type Person,
} from '../../server/alarm/alarm.ts';
import { AlarmEngine } from '../../server/alarm/alarm-engine.ts';
import { CATALOGUE } from '../../server/alarm/catalogue.ts';
import {
  type AlarmEvent,
  alertsPeople,
  awaitsAcknowledgement,
  isSuppressed,
  nextState,
} from '../../server/alarm/life-cycle.ts';
import { Problem } from '../../server/problem/problem.ts';
import { STAGES } from '../../server/stage/stage.ts';
import { tries } from '../long-check.ts';

const T0 = Date.UTC(2026, 1, 3, 22);
const at = (seconds: number) => T0 + seconds * 1000;
const person = (name: string): Person => ({ name, from: '192.168.1.20, Android phone' });
const fresh = () => new AlarmEngine({ standing: [], lastId: 0 });

const blob = (occurrence: number, diameterMm: number, spoolMm: number): Condition => ({
  type: 'blob',
  subject: '',
  active: true,
  occurrence,
  facts: { occurrence, diameterMm, spoolMm, spoolOrdinal: 1, limitMm: 1.9 },
});
const noBlob: Condition = { type: 'blob', subject: '', active: false, facts: {} };
const silent = (active: boolean): Condition => ({ type: 'lineSilent', subject: '', active, facts: { forS: 3 } });
const zoneOver = (excess: number): Condition => ({
  type: 'zoneAboveAbsoluteLimit',
  subject: 'zone 2',
  active: excess > 0,
  excess,
  facts: { zone: 2, zoneName: 'Melt zone', temperatureC: 300 + excess, limitC: 300 },
});
const open = (active: boolean, zone = 2): Condition => ({
  type: 'sensorOpen',
  subject: `zone ${zone}`,
  active,
  facts: { zone },
});

/** Observes the same condition every 0.2 s from one second to another, as the monitor does. */
function hold(engine: AlarmEngine, condition: Condition, fromS: number, toS: number): AlarmChange[] {
  const changes: AlarmChange[] = [];
  for (let s = fromS; s < toS - 1e-9; s += 0.2)
    changes.push(...engine.observe(condition, at(s)), ...engine.tick(at(s)));
  return changes;
}
/** The most urgent alarm, or that of a type. */
function firstOf(engine: AlarmEngine, type?: Alarm['type']): Alarm {
  const found = engine.standing().find((alarm) => type === undefined || alarm.type === type);
  if (found === undefined) throw new Error('no such alarm');
  return found;
}
const stepsOf = (changes: readonly AlarmChange[]) => changes.map(({ step }) => step);

describe('the life cycle of the standard', () => {
  test('is raised, acknowledged and returns to normal', () => {
    const engine = fresh();
    expect(stepsOf(hold(engine, silent(true), 0, 1))).toEqual(['raised']);
    const [alarm] = engine.standing();
    expect(alarm).toMatchObject({ id: 1, state: 'unacknowledged', raisedMs: at(0), occurrences: 1 });
    const change = engine.acknowledge(1, person('phone in the kitchen'), at(2));
    expect(change).toMatchObject({
      step: 'acknowledged',
      by: 'phone in the kitchen',
      from: '192.168.1.20, Android phone',
    });
    expect(change.alarm).toMatchObject({ state: 'acknowledged', acknowledgedMs: at(2) });
    const back = hold(engine, silent(false), 3, 40);
    expect(stepsOf(back)).toEqual(['returned']);
    expect(back[0]?.alarm.state).toBe('normal');
    expect(engine.standing()).toEqual([]);
  });

  test('keeps an alarm that returned unacknowledged until it is acknowledged', () => {
    const engine = fresh();
    hold(engine, silent(true), 0, 1);
    expect(stepsOf(hold(engine, silent(false), 1, 600))).toEqual(['returned']);
    expect(engine.standing()).toMatchObject([{ state: 'returnedUnacknowledged' }]);
    expect(engine.acknowledge(1, person('A'), at(3600)).alarm.state).toBe('normal');
    expect(engine.standing()).toEqual([]);
  });

  test('counts a new occurrence on an alarm that returned unacknowledged', () => {
    const engine = fresh();
    hold(engine, silent(true), 0, 1);
    hold(engine, silent(false), 1, 60);
    expect(stepsOf(hold(engine, silent(true), 60, 61))).toEqual(['again']);
    expect(engine.standing()).toMatchObject([{ id: 1, state: 'unacknowledged', occurrences: 2, returnedMs: null }]);
    expect(engine.standing()[0]?.sentence).toContain('twice');
  });

  test('raises a new alarm with a new number after the last one became normal', () => {
    const engine = fresh();
    hold(engine, silent(true), 0, 1);
    engine.acknowledge(1, person('A'), at(1));
    hold(engine, silent(false), 1, 60);
    hold(engine, silent(true), 60, 61);
    expect(engine.standing()).toMatchObject([{ id: 2, occurrences: 1, acknowledgedBy: null }]);
  });

  test('refuses to acknowledge an alarm twice, or one that does not exist', () => {
    const engine = fresh();
    hold(engine, silent(true), 0, 1);
    engine.acknowledge(1, person('A'), at(1));
    expect(() => engine.acknowledge(1, person('B'), at(2))).toThrow(expect.objectContaining({ code: 'wrong-state' }));
    expect(() => engine.acknowledge(99, person('B'), at(2))).toThrow(Problem);
    expect(() => engine.acknowledge(99, person('B'), at(2))).toThrow(
      expect.objectContaining({ code: 'unknown-alarm' }),
    );
    expect(engine.standing()[0]?.acknowledgedBy).toBe('A');
  });

  test('acknowledges all unacknowledged alarms, and no others', () => {
    const engine = fresh();
    hold(engine, open(true, 2), 0, 3);
    hold(engine, open(true, 1), 0, 3);
    hold(engine, open(true, 3), 0, 3);
    engine.acknowledge(1, person('A'), at(3));
    expect(engine.acknowledgeAll(person('B'), at(4))).toHaveLength(2);
    expect(
      engine
        .standing()
        .map(({ acknowledgedBy }) => acknowledgedBy)
        .toSorted(),
    ).toEqual(['A', 'B', 'B']);
    expect(engine.acknowledgeAll(person('B'), at(5))).toEqual([]);
  });
});

describe('delays and deadband', () => {
  test('raises nothing for a condition shorter than the on-delay', () => {
    const engine = fresh();
    expect(CATALOGUE.sensorOpen.onDelayS).toBe(1);
    expect(hold(engine, open(true), 0, 0.9)).toEqual([]);
    expect(hold(engine, open(false), 0.9, 60)).toEqual([]);
    expect(engine.standing()).toEqual([]);
  });

  test('raises the alarm after the on-delay without a new observation', () => {
    const engine = fresh();
    expect(engine.observe(open(true), at(0))).toEqual([]);
    expect(engine.tick(at(0.9))).toEqual([]);
    expect(stepsOf(engine.tick(at(1.1)))).toEqual(['raised']);
  });

  test('stays active when the condition is back within the off-delay', () => {
    const engine = fresh();
    const changes: AlarmChange[] = [];
    for (let s = 0; s < 300; s += 20) {
      changes.push(...hold(engine, open(true), s, s + 10), ...hold(engine, open(false), s + 10, s + 20));
    }
    expect(stepsOf(changes)).toEqual(['raised']);
    expect(engine.standing()).toMatchObject([{ state: 'unacknowledged', occurrences: 1 }]);
  });

  test('returns only beyond the deadband', () => {
    const engine = fresh();
    expect(CATALOGUE.zoneAboveAbsoluteLimit.deadband).toEqual({ value: 3, unit: '°C' });
    hold(engine, zoneOver(2), 0, 3);
    engine.acknowledge(1, person('A'), at(3));
    expect(hold(engine, zoneOver(-2.9), 3, 300)).toEqual([]);
    expect(stepsOf(hold(engine, zoneOver(-3.1), 300, 340))).toEqual(['returned']);
  });

  test('raises nothing within the deadband', () => {
    const engine = fresh();
    expect(hold(engine, zoneOver(-1), 0, 60)).toEqual([]);
  });

  test('keeps a latching alarm after its cause is gone, until it is acknowledged and reset', () => {
    const engine = fresh();
    expect(CATALOGUE.zoneAboveAbsoluteLimit.latching).toBe(true);
    hold(engine, zoneOver(5), 0, 3);
    const over = hold(engine, zoneOver(-50), 3, 600);
    expect(stepsOf(over)).toEqual(['returned']);
    expect(over[0]?.alarm).toMatchObject({ state: 'latchedUnacknowledged', ceasedMs: at(3) });
    expect(() => engine.reset(1, person('A'), at(600))).toThrow(/not been acknowledged yet/);
    expect(engine.acknowledge(1, person('A'), at(600)).alarm.state).toBe('latchedAcknowledged');
    expect(engine.tick(at(6000))).toEqual([]);
    expect(() => engine.acknowledge(1, person('A'), at(601))).toThrow(/already been acknowledged by A/);
    const reset = engine.reset(1, person('B'), at(700));
    expect(reset).toMatchObject({ step: 'reset', by: 'B', alarm: { state: 'normal' } });
    expect(engine.standing()).toEqual([]);
  });

  test('counts a new occurrence on a latched alarm that is acknowledged but not reset', () => {
    const engine = fresh();
    hold(engine, zoneOver(5), 0, 3);
    engine.acknowledge(1, person('A'), at(3));
    expect(() => engine.reset(1, person('A'), at(4))).toThrow(/cause of alarm 1 is still present/);
    hold(engine, zoneOver(-50), 4, 60);
    expect(engine.standing()).toMatchObject([{ state: 'latchedAcknowledged' }]);
    expect(stepsOf(hold(engine, zoneOver(5), 60, 63))).toEqual(['again']);
    expect(engine.standing()).toMatchObject([{ id: 1, state: 'unacknowledged', occurrences: 2, acknowledgedBy: null }]);
  });

  test('refuses to reset an alarm that is not latched', () => {
    const engine = fresh();
    hold(engine, silent(true), 0, 1);
    hold(engine, silent(false), 1, 60);
    expect(() => engine.reset(1, person('A'), at(61))).toThrow(/not latched/);
  });

  /** EEMUA 191 / ISA-18.2 as quoted by several trade articles: chattering = active to clear at least 3 times in 1 minute. */
  test.each(Object.entries(CATALOGUE))('%s cannot chatter, whatever its condition does', (type) => {
    fc.assert(
      fc.property(fc.array(fc.integer({ min: 1, max: 90 }), { minLength: 20, maxLength: 60 }), (lengths) => {
        const engine = fresh();
        const returns: number[] = [];
        let s = 0;
        lengths.forEach((seconds, i) => {
          const condition: Condition = { type: type as Condition['type'], subject: '', active: i % 2 === 0, facts: {} };
          for (const until = s + seconds; s < until; s++) {
            const changes = [...engine.observe(condition, at(s)), ...engine.tick(at(s))];
            for (const { step, alarm } of changes) {
              if (step === 'returned') returns.push(s);
              if (step !== 'returned' && i % 4 === 0 && alarm.state === 'unacknowledged')
                engine.acknowledge(alarm.id, person('A'), at(s));
            }
          }
        });
        const inOneMinute = returns.map((r) => returns.filter((other) => other >= r && other < r + 60).length);
        expect(Math.max(0, ...inOneMinute)).toBeLessThan(3);
      }),
      { numRuns: tries(20) },
    );
  });
});

describe('occurrences', () => {
  test('counts a second blob, which makes the alarm unacknowledged again', () => {
    const engine = fresh();
    expect(stepsOf(engine.observe(blob(1, 1.95, 38_400), at(0)))).toEqual(['raised']);
    engine.acknowledge(1, person('A'), at(5));
    const changes = engine.observe(blob(2, 2.31, 41_200), at(10));
    expect(stepsOf(changes)).toEqual(['again']);
    const [alarm] = engine.standing();
    expect(alarm).toMatchObject({ id: 1, state: 'unacknowledged', occurrences: 2, acknowledgedBy: null });
    expect(alarm?.sentence).toContain('2 blobs');
    expect(alarm?.sentence).toContain('the latest at 41.20 m of spool 1. It is the worst, 2.31 mm.');
  });

  test('names the worst blob and the latest in the sentence', () => {
    const engine = fresh();
    engine.observe(blob(1, 2.31, 38_400), at(0));
    engine.observe(blob(2, 1.93, 41_200), at(10));
    const sentence = engine.standing()[0]?.sentence ?? '';
    expect(sentence).toContain('The worst is 2.31 mm at 38.40 m of spool 1.');
    expect(sentence).toContain('the latest at 41.20 m of spool 1');
  });

  test('updates the alarm of a growing blob without a new step', () => {
    const engine = fresh();
    engine.observe(blob(1, 1.92, 38_400), at(0));
    expect(engine.observe(blob(1, 2.2, 38_402), at(0.1))).toEqual([]);
    expect(engine.standing()[0]?.sentence).toContain('2.20 mm');
    expect(engine.standing()[0]?.facts.diameterMm).toBe(2.2);
  });

  test('identifies stretches by their place on the strand, wherever their spool starts', () => {
    const engine = fresh();
    const long = (runId: number, gaugeMm: number, spoolMm: number, lengthMm: number) => ({
      ...blob(1, 2.2, spoolMm),
      facts: { ...blob(1, 2.2, spoolMm).facts, runId, gaugeMm, lengthMm },
    });
    engine.observe(long(4, 9000, 7000, 5), at(0));
    // The start of the spool was moved: the same blob, longer, at another place on the spool.
    engine.observe(long(4, 9000, 6500, 9), at(1));
    expect(engine.standing()[0]?.facts).toMatchObject({ gaugeMm: 9000, spoolMm: 6500, lengthMm: 9 });
    // Another place that now has the same position, no thicker: it stays what it was.
    engine.observe(long(4, 9500, 6500, 20), at(2));
    expect(engine.standing()[0]?.facts).toMatchObject({ gaugeMm: 9000, lengthMm: 9 });
  });

  test('counts two blobs on their way at once only once each', () => {
    const engine = fresh();
    const changes = [0, 1, 2, 3].flatMap((s) => [
      ...engine.observe(blob(1, 2, 1000), at(s)),
      ...engine.observe(blob(2, 2, 1500), at(s + 0.5)),
    ]);
    expect(stepsOf(changes)).toEqual(['raised', 'again']);
  });

  test('adds a blob within the off-delay to the same alarm, even the first of a new run', () => {
    const engine = fresh();
    engine.observe(blob(57, 2, 1000), at(0));
    hold(engine, noBlob, 1, 20);
    expect(stepsOf(engine.observe(blob(1, 2, 1000), at(20)))).toEqual(['again']);
    expect(engine.standing()).toHaveLength(1);
  });
});

describe('a heat fault', () => {
  test('shows how hot the zone is now, not how hot it was the time before', () => {
    const engine = fresh();
    const heats = (temperatureC: number, active = true): Condition => ({
      type: 'heaterRisingWithoutPower',
      subject: 'zone 2',
      active,
      facts: { zone: 2, zoneName: 'Melt zone', temperatureC, setpointC: 190, power: 0 },
    });
    hold(engine, heats(322), 0, 5);
    hold(engine, heats(150, false), 5, 60);
    hold(engine, heats(215), 60, 65);
    expect(firstOf(engine).occurrences).toBe(2);
    expect(firstOf(engine).sentence).toContain('215 °C');
  });

  const falling = (temperatureC: number): Condition => ({
    type: 'heaterLosingTemperature',
    subject: 'zone 2',
    active: true,
    facts: { zone: 2, zoneName: 'Melt zone', temperatureC, setpointC: 190 },
  });

  test('updates its sentence every few seconds without a new step', () => {
    const engine = fresh();
    hold(engine, falling(155), 0, 60);
    expect(firstOf(engine).sentence).toContain('155 °C');
    expect(hold(engine, falling(84), 60, 70)).toEqual([]);
    expect(firstOf(engine).sentence).toContain('84 °C');
    hold(engine, falling(109), 70, 80);
    expect(firstOf(engine).sentence).toContain('109 °C');
    expect(engine.standing()[0]).toMatchObject({ occurrences: 1, facts: { temperatureC: 109 } });
  });

  test('does not change its sentence with every reading', () => {
    const engine = fresh();
    hold(engine, falling(155), 0, 60);
    const sentences = new Set<string>();
    for (let i = 0; i < 50; i++) {
      engine.observe(falling(150 - i), at(60 + i / 5));
      sentences.add(firstOf(engine).sentence);
    }
    expect(sentences.size).toBeLessThanOrEqual(4);
  });
});

describe('when another run starts', () => {
  const ended = {
    step: 'returned',
    by: null,
    reason: 'another run began',
    alarm: { state: 'normal', acknowledgedBy: null },
  };

  test('ends an unacknowledged blob alarm of the last run, so that the next blob is a separate alarm', () => {
    const engine = fresh();
    engine.observe(blob(1, 2.25, 34_050), at(0));
    hold(engine, noBlob, 1, 70);
    expect(engine.standing()).toMatchObject([{ state: 'returnedUnacknowledged' }]);
    expect(engine.runStarted(at(3600))).toMatchObject([ended]);
    expect(engine.standing()).toEqual([]);
    const [raised] = engine.observe(blob(1_000_001, 1.95, 2050), at(3700));
    expect(raised).toMatchObject({ step: 'raised', alarm: { id: 2, occurrences: 1, facts: { diameterMm: 1.95 } } });
    expect(raised?.alarm.sentence).not.toContain('2.25');
  });

  test('also ends alarms that are active, latched or suppressed by silence', () => {
    const standing = fresh();
    standing.observe(blob(1, 2.25, 34_050), at(0));
    expect(standing.runStarted(at(2))).toMatchObject([ended]);

    const catalogue = { ...CATALOGUE, blob: { ...CATALOGUE.blob, latching: true } };
    const latching = new AlarmEngine({ standing: [], lastId: 0, catalogue });
    latching.observe(blob(1, 2.25, 34_050), at(0));
    hold(latching, noBlob, 1, 70);
    expect(latching.runStarted(at(80))).toMatchObject([ended]);

    const suppressed = fresh();
    suppressed.observe(blob(1, 2.25, 34_050), at(0));
    hold(suppressed, silent(true), 1, 10);
    expect(suppressed.suppressed()).toMatchObject([{ type: 'blob', state: 'suppressedByDesign' }]);
    expect(suppressed.runStarted(at(3600))).toMatchObject([ended]);
    hold(suppressed, silent(false), 3600, 3700);
    expect(suppressed.standing().filter(({ type }) => type === 'blob')).toEqual([]);
    expect(stepsOf(suppressed.observe(blob(1_000_001, 1.95, 2050), at(3800)))).toEqual(['raised']);
  });

  test('keeps alarms that are not about the strand, and those that a user shelved', () => {
    const engine = fresh();
    hold(engine, open(true), 0, 30);
    engine.observe(blob(1, 2.25, 34_050), at(30));
    const { id } = firstOf(engine, 'blob');
    engine.shelve(id, { forMin: 60, reason: '', runUnderWay: true }, person('Ada'), at(31));
    const before = [engine.standing(), engine.suppressed()];
    expect(engine.runStarted(at(40))).toEqual([]);
    expect([engine.standing(), engine.suppressed()]).toEqual(before);
  });
});

describe('after a restart of the service', () => {
  function interrupted(): { alarm: Alarm; engine: AlarmEngine } {
    const before = fresh();
    before.observe(blob(4, 2.1, 12_000), at(0));
    before.acknowledge(1, person('A'), at(1));
    const [alarm] = before.standing();
    if (alarm === undefined) throw new Error('no alarm');
    return { alarm, engine: new AlarmEngine({ standing: [alarm], lastId: 7 }) };
  }

  test('continues an alarm with its acknowledgement', () => {
    const { alarm, engine } = interrupted();
    expect(engine.standing()).toEqual([alarm]);
    expect(engine.observe(blob(4, 2.1, 12_000), at(60))).toEqual([]);
    expect(stepsOf(hold(engine, noBlob, 61, 130))).toEqual(['returned']);
  });

  test('reports a blob that came in between', () => {
    const { engine } = interrupted();
    expect(stepsOf(engine.observe(blob(5, 2.1, 14_000), at(60)))).toEqual(['again']);
  });

  test('continues the alarm numbers', () => {
    const { engine } = interrupted();
    expect(engine.observe(silent(true), at(60))[0]?.alarm.id).toBe(8);
  });
});

test('lists alarms most urgent first, then newest', () => {
  const engine = fresh();
  const simple = (type: Condition['type']): Condition => ({ type, subject: '', active: true, facts: {} });
  engine.observe({ ...simple('deviceRestarted'), occurrence: 1 }, at(0));
  engine.observe(blob(1, 2, 1000), at(1));
  engine.observe(simple('neck'), at(2));
  engine.observe(silent(true), at(3));
  expect(engine.standing().map(({ type }) => type)).toEqual(['lineSilent', 'blob', 'neck', 'deviceRestarted']);
});

test('returns one shared empty array for an unchanged condition', () => {
  const engine = fresh();
  const condition = open(true);
  hold(engine, condition, 0, 3);
  const first = engine.observe(condition, at(4));
  expect(engine.observe(condition, at(5))).toBe(first);
  expect(engine.observe(open(false, 5), at(5))).toBe(first);
  expect(engine.tick(at(6))).toBe(first);
  expect(engine.standing()).toBe(engine.standing());
});

describe('any sequence of events', () => {
  const nth = fc.nat(5);
  const step = fc.oneof(
    {
      weight: 5,
      arbitrary: fc.record({
        kind: fc.constant('observe' as const),
        type: fc.constantFrom(
          'blob',
          'lineSilent',
          'zoneAboveAbsoluteLimit',
          'sensorOpen',
          'sensorFrozen',
          'lineGarbled',
        ),
        zone: fc.integer({ min: 1, max: 2 }),
        active: fc.boolean(),
        excess: fc.integer({ min: -20, max: 20 }),
        occurrence: fc.integer({ min: 1, max: 4 }),
      }),
    },
    fc.record({ kind: fc.constant('tick' as const) }),
    fc.record({ kind: fc.constant('stage' as const), stage: fc.constantFrom(...STAGES) }),
    fc.record({ kind: fc.constant('acknowledge' as const), nth }),
    fc.record({ kind: fc.constant('acknowledgeAll' as const) }),
    fc.record({ kind: fc.constant('reset' as const), nth }),
    fc.record({ kind: fc.constant('shelve' as const), nth, forMin: fc.constantFrom(1, 10, null) }),
    fc.record({ kind: fc.constant('unshelve' as const), nth }),
    fc.record({ kind: fc.constant('remove' as const), type: fc.constantFrom('blob' as const, 'lineSilent' as const) }),
    fc.record({ kind: fc.constant('return' as const), nth }),
    fc.record({ kind: fc.constant('runEnded' as const) }),
    fc.record({ kind: fc.constant('restart' as const) }),
  );
  const EVENTS_OF: Record<AlarmStep, readonly AlarmEvent[]> = {
    raised: ['occur', 'unsuppress'],
    again: ['occur'],
    returned: ['return'],
    acknowledged: ['acknowledge'],
    reset: ['reset'],
    shelved: ['shelve'],
    unshelved: ['unshelve'],
    suppressed: ['suppress'],
    unsuppressed: ['unsuppress'],
    outOfService: ['removeFromService'],
    returnedToService: ['returnToService'],
  };
  const BOTH = [false, true];
  const situations = BOTH.flatMap((active) =>
    BOTH.flatMap((latching) =>
      BOTH.flatMap((occurred) => ALARM_STATES.map((before) => ({ active, latching, occurred, before }))),
    ),
  );
  const reachable = (from: AlarmState, step: AlarmStep): (AlarmState | null)[] => {
    const next = EVENTS_OF[step].flatMap((event) => situations.map((one) => nextState(from, event, one)));
    // A condition that follows from another alarm goes from its shelf straight into suppression by design.
    return step === 'unshelved' || step === 'returnedToService' ? [...next, 'suppressedByDesign'] : next;
  };
  const BY_PERSON: readonly AlarmStep[] = ['acknowledged', 'reset', 'shelved', 'outOfService', 'returnedToService'];

  test('takes only transitions of the table, and never drops an alarm that no user has seen', () => {
    fc.assert(
      fc.property(fc.array(fc.tuple(step, fc.integer({ min: 0, max: 40_000 })), { maxLength: 100 }), (steps) => {
        let engine = fresh();
        const states = new Map<number, AlarmState>();
        /** Notified, but not answered by any user. */
        const unanswered = new Set<number>();
        let highest = 0;
        let nowMs = T0;
        const follow = (changes: readonly AlarmChange[]) => {
          for (const change of changes) {
            const { alarm, step, by } = change;
            expect(reachable(states.get(alarm.id) ?? 'normal', step)).toContain(alarm.state);
            if (step !== 'unshelved') expect(by !== null, step).toBe(BY_PERSON.includes(step));
            expect(alarm.suppression !== null).toBe(isSuppressed(alarm.state));
            if (!states.has(alarm.id)) {
              expect(alarm.id).toBeGreaterThan(highest);
              highest = alarm.id;
            }
            if (alertsPeople(change)) unanswered.add(alarm.id);
            else if (by !== null) unanswered.delete(alarm.id);
            if (alarm.state === 'normal') expect(unanswered).not.toContain(alarm.id);
            states.set(alarm.id, alarm.state);
          }
        };
        for (const [what, laterMs] of steps) {
          nowMs += laterMs;
          const answer = (
            list: readonly Alarm[],
            can: (alarm: Alarm) => boolean,
            change: (id: number) => AlarmChange,
          ) => {
            const alarm = 'nth' in what ? list[what.nth] : undefined;
            if (alarm && can(alarm)) follow([change(alarm.id)]);
          };
          if (what.kind === 'observe') {
            const { type, zone, active, excess, occurrence } = what;
            const perZone = type.startsWith('sensor') || type.startsWith('zone');
            follow(
              engine.observe(
                {
                  type: type as Condition['type'],
                  subject: perZone ? `zone ${zone}` : '',
                  active: type === 'zoneAboveAbsoluteLimit' ? excess > 0 : active,
                  ...(type === 'zoneAboveAbsoluteLimit' ? { excess } : {}),
                  ...(type === 'blob' ? { occurrence } : {}),
                  facts: { diameterMm: 2 + occurrence / 10, temperatureC: 300 + excess },
                },
                nowMs,
              ),
            );
          } else if (what.kind === 'tick') follow(engine.tick(nowMs));
          else if (what.kind === 'stage') engine.setStage(what.stage);
          else if (what.kind === 'acknowledgeAll') follow(engine.acknowledgeAll(person('A'), nowMs));
          else if (what.kind === 'runEnded') follow(engine.runEnded(nowMs));
          else if (what.kind === 'restart')
            engine = new AlarmEngine({ standing: [...engine.standing(), ...engine.suppressed()], lastId: highest });
          else if (what.kind === 'acknowledge')
            answer(
              engine.standing(),
              ({ state }) => awaitsAcknowledgement(state),
              (id) => engine.acknowledge(id, person('A'), nowMs),
            );
          else if (what.kind === 'reset')
            answer(
              engine.standing(),
              ({ state }) => state === 'latchedAcknowledged',
              (id) => engine.reset(id, person('A'), nowMs),
            );
          else if (what.kind === 'shelve') {
            const request = { forMin: what.forMin, reason: '', runUnderWay: true };
            answer(
              engine.standing(),
              ({ type }) => what.forMin !== null || type !== 'zoneAboveAbsoluteLimit',
              (id) => engine.shelve(id, request, person('A'), nowMs),
            );
          } else if (what.kind === 'unshelve')
            answer(
              engine.suppressed(),
              ({ state }) => state === 'shelved',
              (id) => engine.unshelve(id, person('A'), nowMs),
            );
          else if (what.kind === 'remove') {
            const out = engine.suppressed().some(({ type, state }) => type === what.type && state === 'outOfService');
            if (!out) follow([engine.removeFromService(what.type, '', 'being repaired', person('A'), nowMs)]);
          } else
            answer(
              engine.suppressed(),
              ({ state }) => state === 'outOfService',
              (id) => engine.returnToService(id, person('A'), nowMs),
            );
          const all = [...engine.standing(), ...engine.suppressed()];
          const now = new Map(all.map((alarm) => [alarm.id, alarm.state]));
          for (const [id, state] of states) expect(now.get(id) ?? 'normal').toBe(state);
          expect(now.size).toBe([...states.values()].filter((state) => state !== 'normal').length);
        }
      }),
      { numRuns: tries(500) },
    );
  });
});
