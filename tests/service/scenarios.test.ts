/**
 * Every scenario of the bundled simulator through the whole service: each fault raises its alarm, nothing else does, and
 * blobs are where the simulator put them. The service runs in this process, because starting one takes longer than most scenarios.
 */
import { afterEach, describe, expect, test, vi } from 'vitest';
import type { AlarmType } from '../../server/alarm/alarm.ts';
import { CATALOGUE } from '../../server/alarm/catalogue.ts';
import type { AlarmView } from '../../server/api/contract/alarms.ts';
import type { LiveState } from '../../server/api/contract/live-state.ts';
import type { RunDetail, RunView, SectionView, WindowView } from '../../server/api/contract/runs-and-spools.ts';
import { createSimulation, SCENARIOS, scenarioNames, type TruthEvent } from '../../simulator/index.ts';
import { startTestService, type TestService } from '../api/test-service.ts';
import { IS_LONG_CHECK } from '../long-check.ts';
import { until } from './running-service.ts';

// Starting a process is slow on a busy machine; required speeds are measured separately.
vi.setConfig({ testTimeout: 60_000, hookTimeout: 120_000 });

/** Tolerance for the edge of a section, in addition to one sample pitch. */
const EDGE_TOLERANCE_MM = 20;
/** A blob that must be found: its least excess over the hotend limit and its least number of samples. */
const SURE_BEYOND_MM = 0.03;
const SURE_SAMPLES = 3;
const HOTEND_LIMIT_MM = 1.9;

const STRAND_OR_HEAT = new Set<AlarmType>([
  'blob',
  'neck',
  'offTolerance',
  'strandLost',
  'gaugeFrozen',
  'gaugeMissing',
  'sensorOpen',
  'sensorShort',
  'heaterNoRise',
  'heaterLosingTemperature',
  'heaterRisingWithoutPower',
  'zoneAboveAbsoluteLimit',
  'sensorFrozen',
  'sensorJumping',
]);

let service: TestService | null = null;
afterEach(async () => {
  await service?.stop();
  service = null;
});

interface Raised {
  readonly type: AlarmType;
  readonly subject: string;
  /** Simulated seconds. */
  readonly atS: number;
}

interface Watched {
  readonly raised: readonly Raised[];
  readonly runs: readonly RunDetail[];
  readonly state: LiveState;
}

/**
 * Runs a scenario at full speed until it ends or the expected alarm is active. The line continues after the end, which is
 * ignored.
 */
async function watch(name: string, awaited: (alarm: AlarmView) => boolean, endS: number): Promise<Watched> {
  service = await startTestService(`simulator:${name}?pace=max`);
  const running = service;
  running.monitor.start();
  const look = () => running.get<LiveState>('/api/state');
  // The time of the first reading is the start of the service, within its start-up time.
  const startMs = (await until(look, (s) => s.now.timeMs !== null, 'a first reading')).serverTimeMs;
  const state = await until(
    look,
    (s) => s.alarms.some(awaited) || (s.now.timeMs ?? 0) - startMs > endS * 1000,
    `the end of ${name}`,
    60_000,
  );
  const list = await running.get<RunView[]>('/api/runs');
  const runs = await Promise.all(list.map((run) => running.get<RunDetail>(`/api/runs/${run.id}`)));
  const raised = runs
    .flatMap((run) => run.alarms)
    .filter((entry) => entry.step === 'raised')
    .map(({ alarm, timeMs }) => ({ type: alarm.type, subject: alarm.subject, atS: (timeMs - startMs) / 1000 }))
    .filter((one) => one.atS < endS);
  return { raised, runs, state };
}

const durationOf = (name: string) => SCENARIOS.get(name)?.durationS ?? 0;

/** The alarm that each fault must raise. Zones as in the description of the scenario. */
const RAISES: readonly (readonly [scenario: string, type: AlarmType, subject: string])[] = [
  ['contaminant', 'blob', ''],
  ['bridging-feed', 'offTolerance', ''],
  ['strand-break', 'strandLost', ''],
  ['gauge-empty', 'strandLost', ''],
  ['gauge-frozen', 'gaugeFrozen', ''],
  ['heater-lost', 'heaterLosingTemperature', 'zone 2'],
  ['heater-dead-from-cold', 'heaterNoRise', 'zone 3'],
  ['sensor-open', 'sensorOpen', 'zone 3'],
  ['sensor-short', 'sensorShort', 'zone 1'],
  ['sensor-slipped', 'heaterLosingTemperature', 'zone 2'],
  ['switch-stuck', 'heaterRisingWithoutPower', 'zone 3'],
  ['sensor-frozen', 'sensorFrozen', 'zone 1'],
  ['sensor-loose', 'sensorJumping', 'zone 3'],
  ['spool-fills', 'spoolFull', ''],
];

/** Scenarios whose alarm is the only one of high priority, or the only one besides lower ones. */
const RAISES_ALONE: readonly (readonly [scenario: string, type: AlarmType])[] = [
  ['gauge-wrong-readings', 'blobInDoubt'],
  ['gauge-short-range', 'gaugeBlind'],
  ['counter-slips', 'lengthContradicted'],
  ['new-sketch', 'signalsChanged'],
];

/** Scenarios with no fault, or none that is judged live. */
const RAISES_NOTHING = ['steady', 'whole-run', 'set-point-changes', 'worn-screw', 'untrue-roller'];
const LINK_ONLY: readonly (readonly [scenario: string, type: AlarmType])[] = [
  ['noisy-cable', 'lineGarbled'],
  ['restarting-controller', 'deviceRestarted'],
];
const BLOBS_BY_TRUTH = ['blobs-and-necks', 'damp-feed', 'evening'];
/** Hours each, or with the same alarm as another one. The other scenarios see the same rules. */
const LONG_ONES = [
  'contaminant',
  'gauge-frozen',
  'heater-lost',
  'switch-stuck',
  'whole-run',
  'damp-feed',
  'evening',
  'set-point-changes',
  'bridging-feed',
  'worn-screw',
  'untrue-roller',
  'gauge-empty',
  'gauge-short-range',
  'sensor-short',
  'sensor-slipped',
  'spool-fills',
  'gauge-wrong-readings',
  'noisy-cable',
  'sensor-loose',
  'sensor-frozen',
  'heater-dead-from-cold',
  'strand-break',
  'counter-slips',
];
const isPlayed = (name: string) => IS_LONG_CHECK || !LONG_ONES.includes(name);

test('no scenario is left out', () => {
  const listed = [
    ...RAISES.map(([name]) => name),
    ...RAISES_ALONE.map(([name]) => name),
    ...RAISES_NOTHING,
    ...LINK_ONLY.map(([name]) => name),
    ...BLOBS_BY_TRUTH,
  ];
  expect(listed.toSorted()).toEqual([...scenarioNames].sort());
});

describe('raises the alarm of a fault, and none before it', () => {
  test.each(RAISES.filter(([name]) => isPlayed(name)))(
    '%s raises %s %s',
    { timeout: 90_000 },
    async (name, type, subject) => {
      const isIt = (one: { readonly type: AlarmType; readonly subject: string }) =>
        one.type === type && one.subject === subject;
      const { raised } = await watch(name, isIt, durationOf(name));
      expect(raised.filter(isIt)).toHaveLength(1);
      // The first alarm is about the fault itself; its consequences follow later.
      const first = raised.toSorted((a, b) => a.atS - b.atS)[0]!;
      if (name === 'bridging-feed') expect(['neck', 'offTolerance']).toContain(first.type);
      else expect(first).toMatchObject({ type, subject });
    },
  );
});

describe('raises its alarm, and no other one of high priority', () => {
  test.each(RAISES_ALONE.filter(([name]) => isPlayed(name)))(
    '%s raises %s',
    { timeout: 90_000 },
    async (name, type) => {
      const { raised } = await watch(name, () => false, durationOf(name));
      expect(raised.map((one) => one.type)).toContain(type);
      expect(raised.filter((one) => one.type !== type && CATALOGUE[one.type].priority === 'high')).toEqual([]);
    },
  );
});

describe('raises no alarm if nothing is wrong', () => {
  test.each(RAISES_NOTHING.filter(isPlayed))('%s', { timeout: 120_000 }, async (name) => {
    const { raised, state } = await watch(name, () => false, durationOf(name));
    expect(raised).toEqual([]);
    expect(state.alarms).toEqual([]);
    expect(state.link.readings).toBeGreaterThan(durationOf(name) * 49);
  });
});

describe('raises no alarm of strand or heat for a fault of the cable', () => {
  test.each(LINK_ONLY.filter(([name]) => isPlayed(name)))(
    '%s raises %s alone',
    { timeout: 90_000 },
    async (name, type) => {
      const { raised, state } = await watch(name, () => false, durationOf(name));
      expect(raised.filter((one) => STRAND_OR_HEAT.has(one.type))).toEqual([]);
      expect(raised.map((one) => one.type)).toEqual([type]);
      const { dropped, restarts } = state.link;
      if (type === 'deviceRestarted') expect(restarts).toBe(3);
      else expect(Object.values(dropped).reduce((a, b) => a + b)).toBeGreaterThan(500);
    },
  );
});

describe('places blobs where they really are', () => {
  test.each(BLOBS_BY_TRUTH.filter(isPlayed))(
    '%s: none missed, none invented, edges within 20 mm',
    { timeout: 90_000 },
    async (name) => {
      // Its blobs are rare.
      const untilS = name === 'evening' ? 1500 : 480;
      const { runs } = await watch(name, () => false, untilS);
      const run = runs[0]!;
      // 35 mm/s at 50 readings a second
      const pitchMm = 0.7;
      const offsetMm = await countersAhead(run);
      const { events, gaugeMm } = truthUpTo(name, untilS);
      const truth = events.map((event) => ({
        ...event,
        fromMm: event.fromGaugeMm - offsetMm,
        toMm: (event.toGaugeMm ?? 0) - offsetMm,
      }));
      const spool = run.spools[0]!;
      // An event at the very end may be in one list and not in the other.
      const endMm = gaugeMm - offsetMm - 100;
      const within = (fromMm: number, toMm: number) => fromMm > spool.startGaugeMm && toMm < endMm;
      const blobs = run.sections.filter((one) => one.kind === 'blob' && within(one.fromGaugeMm, one.toGaugeMm));

      const sure = truth.filter(
        (event) =>
          within(event.fromMm, event.toMm) &&
          (event.peakMm ?? 0) >= HOTEND_LIMIT_MM + SURE_BEYOND_MM &&
          event.toMm - event.fromMm >= SURE_SAMPLES * pitchMm,
      );
      expect(sure.length).toBeGreaterThanOrEqual(name === 'damp-feed' ? 1 : 3);
      const missed = sure.filter((event) => !blobs.some((blob) => overlaps(blob, event.fromMm, event.toMm)));
      expect(missed).toEqual([]);
      expect(blobs.every((blob) => blob.verdict === 'discard' || blob.certainty === 'inDoubt')).toBe(true);

      // A section may contain several true blobs close together; each of its edges belongs to one of them.
      const near = (a: number, b: number) => Math.abs(a - b) <= EDGE_TOLERANCE_MM + pitchMm;
      const astray = blobs.filter(
        (blob) =>
          !truth.some((event) => near(blob.fromGaugeMm, event.fromMm)) ||
          !truth.some((event) => near(blob.toGaugeMm, event.toMm)),
      );
      // Sections in doubt may come from noise only, so they match no true blob.
      expect(astray.filter((blob) => blob.certainty === 'sure')).toEqual([]);
      for (const event of sure) {
        const blob = blobs.find((one) => overlaps(one, event.fromMm, event.toMm))!;
        expect(blob.fromGaugeMm).toBeLessThanOrEqual(event.fromMm + EDGE_TOLERANCE_MM + pitchMm);
        expect(blob.toGaugeMm).toBeGreaterThanOrEqual(event.toMm - EDGE_TOLERANCE_MM - pitchMm);
      }
    },
  );
});

const overlaps = (section: SectionView, fromMm: number, toMm: number) =>
  section.fromGaugeMm <= toMm + 1 && section.toGaugeMm >= fromMm - 1;

/** Difference between the length counter of the board and the gauge length of the run, which starts at 0. */
async function countersAhead(run: RunDetail): Promise<number> {
  const { fromGaugeMm, toGaugeMm } = run.extent!;
  const window = await service!.get<WindowView>(
    `/api/runs/${run.run.id}/window?axis=length&from=${fromGaugeMm + 1000}&to=${toGaugeMm}&columns=4000&signals=len`,
  );
  // A column with one reading: both numbers are of that one.
  const column = window.count.indexOf(1);
  if (column >= 0) return window.signals.len!.min[column]! - window.gaugeMm[column]!;
  const any = window.count.findIndex((count) => count > 0);
  return window.signals.len!.min[any]! - window.gaugeMm[any]!;
}

/** The same scenario with the same seed: where the strand was really too thick, and its length. */
function truthUpTo(name: string, endS: number): { readonly events: TruthEvent[]; readonly gaugeMm: number } {
  const simulation = createSimulation({ scenario: name });
  simulation.advanceTo(endS);
  const events = simulation.truth().filter((event) => event.kind === 'oversize' && event.toGaugeMm !== null);
  return { events, gaugeMm: simulation.line.gaugeMm };
}
