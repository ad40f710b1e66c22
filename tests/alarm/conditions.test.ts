import { describe, expect, test } from 'vitest';
import type { Alarm, AlarmType, Condition } from '../../server/alarm/alarm.ts';
import { ALARM_TYPES } from '../../server/alarm/alarm.ts';
import { AlarmEngine } from '../../server/alarm/alarm-engine.ts';
import { alarmSentence } from '../../server/alarm/alarm-sentences.ts';
import { appliesIn, CATALOGUE, titleOf } from '../../server/alarm/catalogue.ts';
import { ConditionHistory } from '../../server/alarm/condition-history.ts';
import {
  coldScrewCondition,
  deviceRestartedCondition,
  gaugeBlindCondition,
  gaugeFrozenCondition,
  gaugeMissingCondition,
  heatConditions,
  hotStandingCondition,
  lastReportedSection,
  lengthContradictedCondition,
  lineGarbledCondition,
  lineSilentCondition,
  type PlacedSection,
  sectionCondition,
  signalsChangedCondition,
  strandConditions,
} from '../../server/alarm/conditions.ts';
import {
  diskFillingCondition,
  isDatedWrong,
  keysGuessedCondition,
  recordDamagedCondition,
  recordFailingCondition,
  runDatedWrongCondition,
} from '../../server/alarm/record-conditions.ts';
import { type SpoolFilling, spoolFullCondition, wantedReachedCondition } from '../../server/alarm/spool-conditions.ts';
import { HEAT_FAULTS, type ZoneStatus } from '../../server/heat/zone-status.ts';
import type { MeasuredSection } from '../../server/strand/section.ts';
import { USUAL_LIMITS } from '../strand/usual-limits.ts';

const section = (over: Partial<MeasuredSection> = {}): MeasuredSection => ({
  ordinal: 3,
  kind: 'blob',
  fromMm: 50_000,
  toMm: 50_012,
  fromTimeMs: 100,
  toTimeMs: 500,
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
const sentenceOf = ({ type, facts }: Condition) => alarmSentence(type, facts, facts, 1);

describe('heat', () => {
  const limits = { absoluteLimitC: 300, atHeatWithinC: 5 };

  test('gives each fault of a zone a separate condition, active only while the fault holds', () => {
    const conditions = heatConditions(zone(), 'Die', limits);
    expect(conditions).toHaveLength(HEAT_FAULTS.length);
    expect(new Set(conditions.map(({ type }) => type)).size).toBe(HEAT_FAULTS.length);
    expect(conditions.filter(({ active }) => active).map(({ type }) => type)).toEqual(['heaterNoRise']);
    expect(conditions.every(({ subject }) => subject === 'zone 2')).toBe(true);
  });

  test('names zone, temperature, set-point and power in the sentence', () => {
    const [condition] = heatConditions(zone(), 'Die', limits).filter(({ active }) => active);
    if (condition === undefined) throw new Error('none active');
    expect(sentenceOf(condition)).toBe(
      'Zone 2 (Die) is heated but does not warm up as it should (61 °C, set-point 200 °C, power 100 %). Heater, fuse or switch may have failed, or the sensor is not in the zone.',
    );
    expect(titleOf(condition)).toBe('Zone 2 (Die): not warming up as it should');
    expect(titleOf({ ...condition, facts: { zone: 1 } })).toBe('Zone 1: not warming up as it should');
  });

  test('states by how much a zone is above the absolute limit, for the deadband', () => {
    const over = heatConditions(zone({ temperatureC: 304, faults: ['aboveAbsoluteLimit'] }), '', limits);
    expect(over.find(({ type }) => type === 'zoneAboveAbsoluteLimit')).toMatchObject({
      active: true,
      excess: 4,
      facts: { limitC: 300 },
    });
    // Only this fault has a limit.
    expect(over.filter(({ facts, excess }) => (facts.limitC ?? excess) !== undefined)).toHaveLength(1);
  });

  test('leaves out of a sentence what a zone does not send', () => {
    const silent = { temperatureC: null, setpointC: null, power: null, faults: ['aboveAbsoluteLimit'] } as const;
    const condition = heatConditions(zone(silent), '', limits).find(({ active }) => active)!;
    expect(condition.facts).toEqual({ zone: 2, limitC: 300 });
    expect(condition).not.toHaveProperty('excess');
    expect(sentenceOf(condition)).toMatch(/^Zone 2 reached more than its limit of 300 °C\. /);
  });

  test('says by how much the barrel is too cold for a turning screw', () => {
    const condition = coldScrewCondition(zone({ temperatureC: 150.4 }), 'Die');
    expect(condition).toMatchObject({ type: 'coldScrew', subject: '', active: true });
    expect(sentenceOf(condition)).toMatch(/^The screw turns although Die is 50 °C below its set-point\. /);
    expect(coldScrewCondition(null, '')).toMatchObject({ active: false, facts: {} });
  });

  test('raises a hot barrel that stands still from the set time on', () => {
    expect(hotStandingCondition(599, 210, 10).active).toBe(false);
    const condition = hotStandingCondition(600, 210.2, 10);
    expect(condition).toMatchObject({ type: 'hotStanding', active: true });
    expect(sentenceOf(condition)).toMatch(/^The barrel is hot \(210 °C\) and the screw has not turned for 10 min\. /);
    expect(hotStandingCondition(600, null, 10).facts).toEqual({ forS: 600 });
  });
});

describe('a spool that fills', () => {
  const filling = (timeToFullS: number, over: Partial<SpoolFilling> = {}): SpoolFilling => ({
    ordinal: 2,
    woundMm: 250_000,
    woundG: 745,
    timeToFullS,
    wanted: null,
    ...over,
  });

  test('is nearly full ten minutes before no more strand fits, and not again until it clearly has room', () => {
    expect(spoolFullCondition(filling(601)).active).toBe(false);
    expect(spoolFullCondition(filling(600)).active).toBe(true);
    const condition = spoolFullCondition(filling(541));
    expect(condition).toMatchObject({ type: 'spoolFull', active: true, facts: { spoolOrdinal: 2, forS: 600 } });
    expect(sentenceOf(condition)).toMatch(/^Spool 2 will be full in 10 min at the present speed\. /);
    expect(sentenceOf(spoolFullCondition(filling(0)))).toBe('Spool 2 is full. Strand falls over its flange.');
    // The deadband is in seconds: a line that slows down for a moment brings no second alarm.
    const back = CATALOGUE.spoolFull.deadband!.value;
    expect(spoolFullCondition(filling(600 + back)).excess).toBe(-back);
    expect(spoolFullCondition(filling(Number.POSITIVE_INFINITY))).toMatchObject({ active: false, facts: {} });
    // A time beyond a day says nothing.
    expect(spoolFullCondition(filling(86_399)).facts).toEqual({ spoolOrdinal: 2, forS: 86_400 });
    expect(spoolFullCondition(filling(86_400)).facts).toEqual({});
    expect(spoolFullCondition(null)).toMatchObject({ active: false, facts: {} });
  });

  test('holds the metres or grams that were wanted', () => {
    const metres = (amount: number) => filling(9e9, { wanted: { amount, unit: 'metres' } });
    expect(wantedReachedCondition(metres(250.01)).active).toBe(false);
    const condition = wantedReachedCondition(metres(250));
    expect(condition).toMatchObject({ type: 'wantedReached', active: true });
    expect(sentenceOf(condition)).toBe('Spool 2 holds the 250\u00a0m that was wanted.');
    expect(wantedReachedCondition(filling(1, { wanted: { amount: 745.5, unit: 'grams' } })).active).toBe(false);
    const grams = wantedReachedCondition(filling(1, { wanted: { amount: 745, unit: 'grams' } }));
    expect(grams.active).toBe(true);
    expect(sentenceOf(grams)).toBe('Spool 2 holds the 745\u00a0g that was wanted.');
    expect(wantedReachedCondition(filling(1)).active).toBe(false);
    expect(wantedReachedCondition(null).active).toBe(false);
  });
});

describe('sections', () => {
  test('names thickness, place and limit of a blob', () => {
    const condition = sectionCondition(placed(), true, USUAL_LIMITS);
    if (condition === null) throw new Error('no condition');
    expect(condition).toMatchObject({ type: 'blob', active: true, occurrence: 4_000_003 });
    expect(condition.facts.reachesWinderInS).toBe(14);
    // The place is stored by gauge length; the sentence names the position on the spool.
    expect(condition.facts).toMatchObject({ runId: 4, gaugeMm: 50_006, fromGaugeMm: 50_000, spoolMm: 41_200 });
    expect(sentenceOf(condition)).toBe(
      'Blob of 2.31 mm at 41.20 m of spool 1, 12 mm long. The hotend limit is 1.90 mm.',
    );
  });

  test('leaves out what is not known of a section', () => {
    const unplaced = { runId: 4, spoolMm: null, spoolOrdinal: null, reachesWinderInS: null };
    const lost = section({ kind: 'strandLost', peakMm: 0.1, peakAtMm: null, toMm: 49_990, toTimeMs: -400 });
    // A length counter that jumps back makes no negative length, and a lost strand has no diameter.
    expect(sectionCondition({ ...unplaced, section: lost }, true, USUAL_LIMITS)?.facts).toEqual({
      occurrence: 4_000_003,
      lengthMm: 0,
      forS: 0,
      runId: 4,
      gaugeMm: 50_000,
      fromGaugeMm: 50_000,
    });
    const blob = sectionCondition({ ...unplaced, section: section({ peakMm: null }) }, true, USUAL_LIMITS);
    expect(blob?.facts).not.toHaveProperty('diameterMm');
    expect(blob?.facts).toMatchObject({ forS: 0.4, limitMm: 1.9 });
    expect(blob?.facts).not.toHaveProperty('text');
  });

  test('gives no condition for kinds without an alarm', () => {
    for (const kind of ['outOfRound', 'drift', 'surging', 'unknown'] as const)
      expect(sectionCondition(placed({ kind }), true, USUAL_LIMITS)).toBeNull();
  });

  test('names the exceeded side of the tolerance', () => {
    const thin = sectionCondition(placed({ kind: 'offTolerance', peakMm: 1.66 }), true, USUAL_LIMITS);
    const thick = sectionCondition(placed({ kind: 'offTolerance', peakMm: 1.84 }), true, USUAL_LIMITS);
    const spot = sectionCondition(placed({ kind: 'neck', peakMm: 1.4 }), true, USUAL_LIMITS);
    expect(spot?.facts.limitMm).toBe(USUAL_LIMITS.smallestFeedableMm);
    expect(thin?.facts.limitMm).toBeCloseTo(1.7);
    expect(thick?.facts.limitMm).toBeCloseTo(1.8);
  });

  test('gives one condition for several blobs on their way, with the newest as its occurrence', () => {
    const conditions = strandConditions(
      [placed({ ordinal: 5, peakMm: 2 }), placed({ ordinal: 3 }), placed({ ordinal: 4, kind: 'neck' })],
      USUAL_LIMITS,
    );
    expect(conditions.map(({ type, active }) => [type, active])).toEqual([
      ['blob', true],
      ['blobInDoubt', false],
      ['neck', true],
      ['offTolerance', false],
      ['strandLost', false],
    ]);
    expect(conditions[0]).toMatchObject({ occurrence: 4_000_005, facts: { diameterMm: 2 } });
  });

  const inDoubt = { certainty: 'inDoubt', verdict: 'doubtful' } as const;
  const activeOf = (over: Partial<MeasuredSection>) =>
    strandConditions([placed(over)], USUAL_LIMITS).flatMap(({ type, active }) => (active ? [type] : []));

  test('tells a blob that only one reading saw as a possible one, and so a thin spot, to look at before cutting, with less priority', () => {
    const condition = sectionCondition(placed({ ...inDoubt, doubt: 'oneReading' }), true, USUAL_LIMITS)!;
    expect(condition.type).toBe('blobInDoubt');
    expect(sentenceOf(condition)).toBe(
      'Possible blob of 2.31 mm at 41.20 m of spool 1, one reading only. Look before you cut.',
    );
    const thin = sectionCondition(
      placed({ kind: 'neck', ...inDoubt, doubt: 'axesDisagree', peakMm: 1.5 }),
      true,
      USUAL_LIMITS,
    )!;
    expect(sentenceOf(thin)).toBe(
      'Possible thin spot of 1.50 mm at 41.20 m of spool 1, the two axes of the gauge disagree. Look before you cut.',
    );
    expect(sentenceOf(sectionCondition(placed({ kind: 'neck', peakMm: 1.5 }), true, USUAL_LIMITS)!)).toMatch(
      /^Thin spot/,
    );
    expect(CATALOGUE.blob.priority).toBe('high');
    expect(CATALOGUE.blobInDoubt.priority).toBe('medium');
  });

  test('waits for the end of a blob or thin spot in doubt, or for so much of it that it is no first reading of a sure one', () => {
    expect(activeOf({ ...inDoubt, open: true, toMm: 50_049 })).toEqual([]);
    expect(activeOf({ ...inDoubt, open: true, toMm: 50_050 })).toEqual(['blobInDoubt']);
    expect(activeOf({ ...inDoubt, open: false })).toEqual(['blobInDoubt']);
    expect(activeOf({ open: true })).toEqual(['blob']);
    const neck = { kind: 'neck', ...inDoubt } as const;
    expect([true, false].map((open) => activeOf({ ...neck, open }))).toEqual([[], ['neck']]);
    expect(activeOf({ ...neck, open: true, toMm: 50_050 })).toEqual(['neck']);
    expect(activeOf({ ...neck, kind: 'strandLost', open: true })).toEqual(['strandLost']);
  });

  test('raises nothing for strand that may be out of tolerance or not', () => {
    expect(activeOf({ kind: 'offTolerance', ...inDoubt, open: true })).toEqual([]);
    expect(activeOf({ kind: 'offTolerance', open: true })).toEqual(['offTolerance']);
  });

  test('raises nothing near a limit where the readings of the gauge are doubtful anyway', () => {
    const found = (blob: Partial<MeasuredSection>, unknown: Partial<MeasuredSection> = { doubt: 'gaugeShifted' }) =>
      strandConditions(
        [
          placed({ kind: 'unknown', ...inDoubt, ordinal: 2, fromMm: 40_000, open: true, ...unknown }),
          placed({ ...inDoubt, doubt: 'nearLimit', ...blob }),
        ],
        USUAL_LIMITS,
      ).flatMap(({ type, active }) => (active ? [type] : []));
    expect(found({})).toEqual([]);
    expect(found({ kind: 'neck' }, { doubt: 'gaugeNoisy' })).toEqual([]);
    expect(found({ doubt: 'oneReading' }, { doubt: 'gaugeNoisy' })).toEqual([]);
    // What is sure, or in doubt for another reason, or was found before, is still news; so is the top of a blob that is cut off.
    expect(found({ certainty: 'sure' })).toEqual(['blob']);
    expect(found({ doubt: 'oneReading' })).toEqual(['blobInDoubt']);
    expect(found({ fromMm: 39_000 })).toEqual(['blobInDoubt']);
    expect(found({}, { doubt: 'gaugeBlind' })).toEqual(['blobInDoubt']);
    expect(found({}, { doubt: 'gaugeShifted', open: false })).toEqual(['blobInDoubt']);
    expect(found({}, {})).toEqual(['blobInDoubt']);
  });

  test('raises one alarm in ten minutes for strand that wanders across the tolerance', () => {
    const engine = new AlarmEngine({ standing: [], lastId: 0 });
    engine.setStage('winding');
    let calls = 0;
    // A stretch out of tolerance each 100 s, for an hour.
    for (let s = 0; s < 3600; s++) {
      const off = placed({ kind: 'offTolerance', ordinal: 1 + Math.floor(s / 100), open: true });
      const conditions = strandConditions(s % 100 < 20 ? [off] : [], USUAL_LIMITS);
      const changes = [...conditions.flatMap((one) => engine.observe(one, s * 1000)), ...engine.tick(s * 1000)];
      calls += changes.filter(({ step }) => step === 'raised' || step === 'again').length;
    }
    expect(calls).toBe(1);
  });
});

test('counts the first blob of a run as new although the alarm of the previous run is still there', () => {
  const engine = new AlarmEngine({ standing: [], lastId: 0 });
  const first = (runId: number, timeMs: number) =>
    strandConditions([{ ...placed({ ordinal: 1 }), runId }], USUAL_LIMITS).flatMap((one) =>
      engine.observe(one, timeMs),
    );
  expect(first(4, 1000).map(({ step }) => step)).toEqual(['raised']);
  engine.acknowledge(1, { name: 'Ada', from: 'test' }, 2000);
  expect(first(4, 3000)).toEqual([]);
  // Nothing was observed in between, so the condition seems to have lasted.
  expect(first(5, 4000).map(({ step, alarm }) => [step, alarm.state])).toEqual([['again', 'unacknowledged']]);
});

describe('link, gauge and record', () => {
  test('raises silence after 3 s, for a live source only', () => {
    expect(lineSilentCondition({ live: true, silentForS: 2.9 }).active).toBe(false);
    expect(lineSilentCondition({ live: true, silentForS: 3 }).active).toBe(true);
    expect(lineSilentCondition({ live: false, silentForS: 3000 }).active).toBe(false);
    expect(lineSilentCondition({ live: true, silentForS: null }).active).toBe(false);
    expect(sentenceOf(lineSilentCondition({ live: true, silentForS: 14, text: 'Cannot open the port.' }))).toBe(
      'No data for 14 s: nothing is being watched. Cannot open the port.',
    );
  });

  test('expects silence while the port is released', () => {
    expect(lineSilentCondition({ live: true, silentForS: 9, isReleased: true }).intended).toBe(
      'while the port is released',
    );
    expect(lineSilentCondition({ live: true, silentForS: 9 })).not.toHaveProperty('intended');
    expect(lineSilentCondition({ live: true, silentForS: null, text: '' }).facts).toEqual({});
  });

  test('calls lines garbled when over a tenth is dropped, or bytes make no line', () => {
    expect(lineGarbledCondition({ droppedShare: 0.1, unreadable: null }).active).toBe(false);
    expect(lineGarbledCondition({ droppedShare: 0.35, unreadable: null })).toMatchObject({
      active: true,
      excess: 25,
    });
    expect(lineGarbledCondition({ droppedShare: 0, unreadable: 'bytes' })).toMatchObject({ active: true, excess: 90 });
    expect(sentenceOf(lineGarbledCondition({ droppedShare: 0.35, unreadable: null }))).toContain('35 %');
    expect(sentenceOf(lineGarbledCondition({ droppedShare: 0, unreadable: 'noLineEnds' }))).toBe(
      'The data cannot be read: Text arrives without line ends: end each line with println.',
    );
  });

  test('counts three restarts as occurrences of one alarm', () => {
    const engine = new AlarmEngine({ standing: [], lastId: 0 });
    for (const restartedMs of [5000, 10_000, 15_000])
      engine.observe(deviceRestartedCondition({ restartedMs, justNow: true, where: null }), restartedMs);
    expect(engine.standing()).toMatchObject([{ type: 'deviceRestarted', occurrences: 3, priority: 'low' }]);
    expect(engine.standing()[0]?.sentence).toContain('3 times');
    expect(deviceRestartedCondition({ restartedMs: null, justNow: true, where: null }).active).toBe(false);
    expect(deviceRestartedCondition({ restartedMs: 5000, justNow: false, where: null }).active).toBe(false);
  });

  test('keeps the place on the strand of a restart', () => {
    const where = { runId: 4, gaugeMm: 9000, spoolMm: 7000, spoolOrdinal: 2 };
    expect(deviceRestartedCondition({ restartedMs: 5000, justNow: true, where }).facts).toMatchObject(where);
  });

  test('describes a frozen gauge and a failing record', () => {
    expect(sentenceOf(gaugeMissingCondition(12))).toContain('No diameter from the gauge for 12 s');
    expect(gaugeMissingCondition(2.9).active).toBe(false);
    expect(gaugeMissingCondition(3).active).toBe(true);
    expect(gaugeFrozenCondition({ frozen: false })).toMatchObject({ active: false, facts: {} });
    expect(sentenceOf(gaugeFrozenCondition({ frozen: true, diameterMm: 1.752, forS: 12 }))).toContain(
      'exactly 1.752 mm for 12 s',
    );
    expect(recordFailingCondition(null)).toMatchObject({ active: false, facts: {} });
    expect(diskFillingCondition(null)).toMatchObject({ active: false, facts: {} });
    expect(diskFillingCondition('0.4 GB left').active).toBe(true);
    expect(recordFailingCondition('the disk is full').active).toBe(true);
    expect(sentenceOf(diskFillingCondition('0.4 GB left'))).toBe('The disk of the record is nearly full: 0.4 GB left.');
    expect(recordDamagedCondition(null)).toMatchObject({ active: false, facts: {} });
    expect(recordDamagedCondition('run 3').active).toBe(true);
    expect(runDatedWrongCondition({ aheadMs: 86_400_000, endedRunId: null }).active).toBe(true);
    expect(sentenceOf(recordDamagedCondition('run 3'))).toBe('Part of the record is damaged. Run 3.');
    expect(sentenceOf(recordFailingCondition('The disk that holds /x is full.'))).toBe(
      'Nothing is being recorded. The disk that holds /x is full.',
    );
    expect([0, 599_999, -599_999, 600_000, -600_000].map(isDatedWrong)).toEqual([false, false, false, true, true]);
    expect(runDatedWrongCondition(null)).toMatchObject({ active: false, facts: {} });
    expect(sentenceOf(runDatedWrongCondition({ aheadMs: 86_400_000, endedRunId: null }))).toBe(
      'The date of a run is wrong: the clock of this machine was moved forward by 24 h 0 min after it had started.',
    );
    expect(sentenceOf(runDatedWrongCondition({ aheadMs: -600_000, endedRunId: null }))).toContain(
      'moved back by 10 min',
    );
    expect(sentenceOf(runDatedWrongCondition({ aheadMs: 7_200_000, endedRunId: 3 }))).toContain(
      'run 3 is dated 2 h 0 min too early',
    );
    expect(sentenceOf(runDatedWrongCondition({ aheadMs: -600_000, endedRunId: 3 }))).toContain('too late');
    expect(keysGuessedCondition([])).toMatchObject({ active: false, facts: {} });
    const guessing = [12, 11, 10].map((count) => ({ address: `192.0.2.${count}`, count }));
    expect(sentenceOf(keysGuessedCondition(guessing.slice(0, 1)))).toBe(
      'Someone is guessing the access key or a code: 12 wrong ones came from 192.0.2.12.',
    );
    expect(sentenceOf(keysGuessedCondition(guessing))).toContain(
      'came from 192.0.2.12, and 21 from 2 other addresses.',
    );
    expect(sentenceOf(keysGuessedCondition(guessing.slice(1)))).toContain('and 10 from another address.');
  });
});

describe('the history of a condition', () => {
  const blob = (occurrence?: number): Condition => ({
    type: 'blob',
    subject: '',
    active: true,
    facts: {},
    ...(occurrence === undefined ? {} : { occurrence }),
  });

  test('tells new occurrences from older ones and from what continues', () => {
    const history = new ConditionHistory();
    expect([history.holds, history.sinceMs, history.occurrence]).toEqual([false, null, undefined]);
    const seventh = blob(7);
    expect(history.observe(seventh, true, 1000)).toBe('started');
    expect(history.observe(seventh, true, 2000)).toBe('unchanged');
    expect(history.observe(blob(7), true, 3000)).toBe('continues');
    expect(history.observe(blob(8), true, 4000)).toBe('again');
    // An older blob that is still on its way is not new.
    expect([history.observe(blob(7), true, 5000), history.occurrence]).toEqual(['continues', 8]);
    expect([history.holds, history.sinceMs]).toEqual([true, 1000]);
    expect(history.observe(blob(8), false, 6000)).toBe('gone');
    expect([history.holds, history.sinceMs]).toEqual([false, 6000]);
    expect(history.observe(blob(8), true, 7000)).toBe('started');
    history.observe(blob(8), false, 8000);
    // A recording jumped back in time.
    expect([history.observe(blob(3), true, 9000), history.occurrence]).toEqual(['again', 3]);
  });

  test('has no occurrences for a lasting condition', () => {
    const history = new ConditionHistory();
    const says = [true, true, false, true].map((holds, s) => history.observe(blob(), holds, s * 1000));
    expect([...says, history.occurrence]).toEqual(['started', 'continues', 'gone', 'started', undefined]);
    expect([history.observe(blob(4), true, 5000), history.occurrence]).toEqual(['continues', 4]);
  });

  test('continues after a restart, and starts again after an end', () => {
    const history = new ConditionHistory();
    history.resume(true, 5);
    expect([history.observe(blob(5), true, 1000), history.sinceMs]).toEqual(['continues', 1000]);
    expect(history.observe(blob(6), true, 2000)).toBe('again');
    const last = blob(6);
    history.observe(last, true, 3000);
    history.end(4000);
    expect([history.holds, history.sinceMs]).toEqual([false, 4000]);
    expect([history.observe(last, true, 5000), history.sinceMs]).toEqual(['started', 5000]);
    history.resume(false, 6);
    expect(history.observe(blob(6), false, 6000)).toBe('gone');
  });

  test('counts the time that it holds, also after the clock was set back', () => {
    const history = new ConditionHistory();
    expect(history.hasHeldFor(0, 1000)).toBe(false);
    history.observe(blob(), true, 10_000);
    expect([history.hasHeldFor(3, 12_999), history.hasHeldFor(3, 13_000)]).toEqual([false, true]);
    history.followClock(12_000);
    expect(history.sinceMs).toBe(10_000);
    history.followClock(4000);
    expect([history.sinceMs, history.hasHeldFor(3, 7000)]).toEqual([4000, true]);
    history.observe(blob(), false, 8000);
    expect(history.hasHeldFor(0, 9000)).toBe(false);
  });
});

test('describes a gauge that cannot see blobs, a length that is contradicted, and signals with new names', () => {
  const blind = gaugeBlindCondition(1.85, 1.9);
  expect(blind.active).toBe(true);
  expect(sentenceOf(blind)).toBe(
    'The gauge shows no more than 1.85 mm, less than the hotend limit of 1.90 mm. Blobs are not being watched.',
  );
  const contradicted = lengthContradictedCondition({ countedMmPerS: 20.4, sentMmPerS: 39.6 });
  expect(contradicted.active).toBe(true);
  expect(sentenceOf(contradicted)).toContain('disagree: len counts 20 mm/s, v says 40 mm/s.');
  for (const calm of [gaugeBlindCondition(null, 1.9), lengthContradictedCondition(null)])
    expect(calm).toMatchObject({ active: false, facts: {} });
  expect(signalsChangedCondition(null)).toMatchObject({ active: false, facts: {} });
  expect(signalsChangedCondition({ all: true, diameter: true, zones: [1] })).toMatchObject({ active: true, facts: {} });
  const inPart = signalsChangedCondition({ all: false, diameter: true, zones: [1, 2] }, ['', 'Nozzle']);
  expect(sentenceOf(inPart)).toBe(
    'Names in the data have changed: the diameter and the temperatures of zone 1 and Nozzle can no longer be watched.',
  );
});

describe('the catalogue', () => {
  test.each(ALARM_TYPES)('%s has a consequence and a first check in whole sentences', (type) => {
    const entry = CATALOGUE[type];
    expect(entry.title).not.toBe('');
    expect(entry.consequence).toMatch(/^[A-Z].*\.$/);
    expect(entry.firstCheck).toMatch(/^[A-Z].*[.?]$/);
    expect(alarmSentence(type, {}, {}, 1)).toMatch(/^[A-Z].*[.?]$/);
    expect(alarmSentence(type, {}, {}, 3)).toContain('3 ');
    expect(alarmSentence(type, {}, {}, 1)).not.toMatch(/undefined|NaN|null/);
  });

  test('every heat alarm says to use the plug, and that a cut-out is needed', () => {
    for (const type of ALARM_TYPES.filter((t) => CATALOGUE[t].group === 'heat' && t !== 'coldScrew')) {
      const { caution } = CATALOGUE[type];
      expect(caution).toContain('at its plug, not by software');
      expect(caution).toContain('Strandward cannot switch anything off');
      expect(caution).toContain('independent over-temperature cut-out');
      expect(caution).toContain('licensed electrician');
      expect(caution).toContain('local codes');
    }
  });

  test('says to stop a cold screw at the machine', () => {
    expect(CATALOGUE.coldScrew.caution).toContain('Strandward cannot stop anything');
  });

  test('applies strand alarms while winding only, and link, heat and record alarms always', () => {
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

test('numbers of sections that alarms have reported are known after a restart, for the same run only', () => {
  const alarm = (type: AlarmType, occurrence?: number) => ({ type, facts: { occurrence } }) as Alarm;
  const alarms = [
    alarm('blob', 7_000_012),
    alarm('neck', 7_000_015),
    alarm('blob', 6_000_900),
    alarm('heaterWeak', 7_000_099),
  ];
  expect(lastReportedSection(alarms, 7)).toBe(15);
  expect(lastReportedSection(alarms, 8)).toBe(0);
});
