import { describe, expect, test } from 'vitest';
import type { Condition } from '../../server/alarm/alarm.ts';
import { ALARM_TYPES } from '../../server/alarm/alarm.ts';
import { AlarmEngine } from '../../server/alarm/alarm-engine.ts';
import { alarmSentence } from '../../server/alarm/alarm-sentences.ts';
import { appliesIn, CATALOGUE, titleOf } from '../../server/alarm/catalogue.ts';
import {
  deviceRestartedCondition,
  diskFillingCondition,
  gaugeFrozenCondition,
  gaugeMissingCondition,
  heatConditions,
  lineGarbledCondition,
  lineSilentCondition,
  type PlacedSection,
  recordFailingCondition,
  sectionCondition,
  strandConditions,
} from '../../server/alarm/conditions.ts';
import { HEAT_FAULTS, type ZoneStatus } from '../../server/heat/zone-status.ts';
import type { MeasuredSection } from '../../server/strand/section.ts';
import { USUAL_LIMITS } from '../strand/usual-limits.ts';

const section = (over: Partial<MeasuredSection> = {}): MeasuredSection => ({
  ordinal: 3,
  kind: 'blob',
  fromMm: 50_000,
  toMm: 50_012,
  fromTimeMs: 0,
  toTimeMs: 400,
  peakMm: 2.31,
  peakAtMm: 50_006,
  volumeBeyondMm3: 4,
  certainty: 'sure',
  verdict: 'discard',
  open: false,
  ...over,
});
const placed = (over: Partial<MeasuredSection> = {}): PlacedSection => ({
  section: section(over),
  runId: 4,
  spoolMm: 41_200,
  spoolOrdinal: 1,
  reachesWinderInS: 14,
});
const zone = (over: Partial<ZoneStatus> = {}): ZoneStatus => ({
  zone: 2,
  doing: 'faulty',
  temperatureC: 61.4,
  setpointC: 200,
  power: 1,
  faults: ['noRise'],
  atHeatSinceMs: null,
  expected: null,
  ...over,
});
const said = ({ type, facts }: Condition) => alarmSentence(type, facts, facts, 1);

describe('heat', () => {
  const limits = { absoluteLimitC: 300, atHeatWithinC: 5 };

  test('every fault of a zone has its own condition, and only those that hold are active', () => {
    const conditions = heatConditions(zone(), 'Die', limits);
    expect(conditions).toHaveLength(HEAT_FAULTS.length);
    expect(new Set(conditions.map(({ type }) => type)).size).toBe(HEAT_FAULTS.length);
    expect(conditions.filter(({ active }) => active).map(({ type }) => type)).toEqual(['heaterNoRise']);
    expect(conditions.every(({ subject }) => subject === 'zone 2')).toBe(true);
  });

  test('the sentence says which zone, how warm, how far to go and with what power', () => {
    const [condition] = heatConditions(zone(), 'Die', limits).filter(({ active }) => active);
    if (condition === undefined) throw new Error('none active');
    expect(said(condition)).toBe(
      'Zone 2 (Die) does not get warmer (61 °C) although it is heated, set-point 200 °C, power 100 %: heater, fuse or switch may be at fault, or the sensor lies outside the zone.',
    );
    expect(titleOf(condition)).toBe('Zone 2 (Die): no rise');
    expect(titleOf({ ...condition, facts: { zone: 1 } })).toBe('Zone 1: no rise');
  });

  test('above the absolute limit carries by how much, for its deadband', () => {
    const over = heatConditions(zone({ temperatureC: 304, faults: ['aboveAbsoluteLimit'] }), '', limits);
    expect(over.find(({ type }) => type === 'zoneAboveAbsoluteLimit')).toMatchObject({ active: true, excess: 4 });
  });
});

describe('sections', () => {
  test('a blob says how thick, where on the spool, and beyond which limit', () => {
    const condition = sectionCondition(placed(), true, USUAL_LIMITS);
    if (condition === null) throw new Error('no condition');
    expect(condition).toMatchObject({ type: 'blob', active: true, occurrence: 4_000_003 });
    expect(condition.facts.reachesWinderInS).toBe(14);
    // The place is kept on the strand; that on the spool is what the sentence tells.
    expect(condition.facts).toMatchObject({ runId: 4, gaugeMm: 50_006, fromGaugeMm: 50_000, spoolMm: 41_200 });
    expect(said(condition)).toBe(
      'Blob of 2.31 mm at 41.20 m of spool 1, above the hotend limit of 1.90 mm, 12 mm long.',
    );
  });

  test('kinds without an alarm have no condition', () => {
    for (const kind of ['outOfRound', 'drift', 'surging', 'unknown'] as const)
      expect(sectionCondition(placed({ kind }), true, USUAL_LIMITS)).toBeNull();
  });

  test('off tolerance names the side it is on', () => {
    const thin = sectionCondition(placed({ kind: 'offTolerance', peakMm: 1.66 }), true, USUAL_LIMITS);
    const thick = sectionCondition(placed({ kind: 'offTolerance', peakMm: 1.84 }), true, USUAL_LIMITS);
    expect(thin?.facts.limitMm).toBeCloseTo(1.7);
    expect(thick?.facts.limitMm).toBeCloseTo(1.8);
  });

  test('several blobs on their way are one condition, with the newest as its occurrence', () => {
    const conditions = strandConditions(
      [placed({ ordinal: 3 }), placed({ ordinal: 5, peakMm: 2 }), placed({ ordinal: 4, kind: 'neck' })],
      USUAL_LIMITS,
    );
    expect(conditions.map(({ type, active }) => [type, active])).toEqual([
      ['blob', true],
      ['neck', true],
      ['offTolerance', false],
      ['strandLost', false],
    ]);
    expect(conditions[0]).toMatchObject({ occurrence: 4_000_005, facts: { diameterMm: 2 } });
  });
});

test('the first blob of a run is another than the first of the run before, though an alarm of that one still stands', () => {
  const engine = new AlarmEngine({ standing: [], lastId: 0 });
  const first = (runId: number, timeMs: number) =>
    strandConditions([{ ...placed({ ordinal: 1 }), runId }], USUAL_LIMITS).flatMap((one) =>
      engine.observe(one, timeMs),
    );
  expect(first(4, 1000).map(({ what }) => what)).toEqual(['raised']);
  engine.acknowledge(1, { name: 'Ada', from: 'test' }, 2000);
  expect(first(4, 3000)).toEqual([]);
  // Nothing was observed between: the condition seems never to have been gone.
  expect(first(5, 4000).map(({ what, alarm }) => [what, alarm.state])).toEqual([['again', 'unacknowledged']]);
});

describe('link, gauge and record', () => {
  test('3 s without a line is an alarm for a live source only', () => {
    expect(lineSilentCondition({ live: true, silentForS: 2.9 }).active).toBe(false);
    expect(lineSilentCondition({ live: true, silentForS: 3 }).active).toBe(true);
    expect(lineSilentCondition({ live: false, silentForS: 3000 }).active).toBe(false);
    expect(lineSilentCondition({ live: true, silentForS: null }).active).toBe(false);
    expect(said(lineSilentCondition({ live: true, silentForS: 14, text: 'Cannot open the port.' }))).toBe(
      'No reading line for 14 s: the line is not being watched. Cannot open the port.',
    );
  });

  test('more than a tenth of the lines dropped, or bytes without any line, is a garbled line', () => {
    expect(lineGarbledCondition({ droppedShare: 0.1, onlyGarbage: false }).active).toBe(false);
    expect(lineGarbledCondition({ droppedShare: 0.35, onlyGarbage: false })).toMatchObject({
      active: true,
      excess: 25,
    });
    expect(lineGarbledCondition({ droppedShare: 0, onlyGarbage: true })).toMatchObject({ active: true, excess: 90 });
    expect(said(lineGarbledCondition({ droppedShare: 0.35, onlyGarbage: false }))).toContain('35 %');
  });

  test('a restart is an occurrence: three of them are one alarm, counted', () => {
    const engine = new AlarmEngine({ standing: [], lastId: 0 });
    for (const restartedMs of [5000, 10_000, 15_000])
      engine.observe(deviceRestartedCondition({ restartedMs, justNow: true, where: null }), restartedMs);
    expect(engine.standing()).toMatchObject([{ type: 'deviceRestarted', occurrences: 3, priority: 'low' }]);
    expect(engine.standing()[0]?.sentence).toContain('3 times');
    expect(deviceRestartedCondition({ restartedMs: null, justNow: true, where: null }).active).toBe(false);
  });

  test('a restart keeps where on the strand it happened', () => {
    const where = { runId: 4, gaugeMm: 9000, spoolMm: 7000, spoolOrdinal: 2 };
    expect(deviceRestartedCondition({ restartedMs: 5000, justNow: true, where }).facts).toMatchObject(where);
  });

  test('a frozen gauge and a failing record say so', () => {
    expect(said(gaugeMissingCondition(12))).toContain('No diameter from the gauge for 12 s');
    expect(gaugeMissingCondition(2.9).active).toBe(false);
    expect(said(gaugeFrozenCondition({ frozen: true, diameterMm: 1.752, forS: 12 }))).toContain(
      'exactly 1.752 mm for 12 s',
    );
    expect(recordFailingCondition(null).active).toBe(false);
    expect(diskFillingCondition(null).active).toBe(false);
    expect(said(diskFillingCondition('0.4 GB left'))).toBe('The disk of the record is nearly full: 0.4 GB left.');
    expect(said(recordFailingCondition('the disk is full'))).toBe('Nothing is being recorded: the disk is full.');
  });
});

describe('the catalogue', () => {
  test.each(ALARM_TYPES)('%s says what follows, what to check first, and speaks in whole sentences', (type) => {
    const entry = CATALOGUE[type];
    expect(entry.title).not.toBe('');
    expect(entry.consequence).toMatch(/^[A-Z].*\.$/);
    expect(entry.firstCheck).toMatch(/^[A-Z].*[.?]$/);
    expect(alarmSentence(type, {}, {}, 1)).toMatch(/^[A-Z].*[.?]$/);
    expect(alarmSentence(type, {}, {}, 3)).toContain('3 ');
    expect(alarmSentence(type, {}, {}, 1)).not.toMatch(/undefined|NaN|null/);
  });

  test('every heat alarm says that only the plug switches off, and that a cut-out is needed', () => {
    for (const type of ALARM_TYPES.filter((t) => CATALOGUE[t].group === 'heat' && t !== 'coldScrew')) {
      const { caution } = CATALOGUE[type];
      expect(caution).toContain('at its plug, not by software');
      expect(caution).toContain('Strandward cannot switch anything off');
      expect(caution).toContain('independent over-temperature cut-out');
      expect(caution).toContain('licensed electrician');
      expect(caution).toContain('local codes');
    }
  });

  test('a screw that turns cold is stopped at the machine, which no software does', () => {
    expect(CATALOGUE.coldScrew.caution).toContain('Strandward cannot stop anything');
  });

  test('strand alarms apply while winding only; link, heat and record always', () => {
    for (const type of ALARM_TYPES) {
      const strand = CATALOGUE[type].group === 'strand';
      const gauge = CATALOGUE[type].group === 'gauge';
      expect(appliesIn(type, 'winding')).toBe(true);
      expect(appliesIn(type, 'purging')).toBe(!strand);
      expect(appliesIn(type, 'heating')).toBe(!strand && !gauge);
      expect(appliesIn(type, 'stopped')).toBe(!strand && !gauge);
    }
  });
});
