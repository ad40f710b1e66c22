import { describe, expect, it } from 'vitest';
import type { ZoneStatus } from '../../server/heat/zone-status.ts';
import type { Stage } from '../../server/stage/stage.ts';
import { allAtHeatSinceMs, becomesReady, isHeated, missingForScrew } from '../../server/stage/stage-readiness.ts';
import { type StageInput, type StageOptions, type StageState, StageTracker } from '../../server/stage/stage-tracker.ts';
import { normal, seeded } from '../chance.ts';

const OPTIONS: StageOptions = {
  nominalMm: 1.75,
  toleranceMm: 0.05,
  strandPresentMm: 0.5,
  settleLengthMm: 1500,
  soakMin: 10,
  zoneNames: ['Feed zone', 'Melt zone', 'Die'],
};

const zone = (over: Partial<ZoneStatus> = {}): ZoneStatus => ({
  zone: 1,
  doing: 'holding',
  temperatureC: 200,
  setpointC: 200,
  power: 0.3,
  faults: [],
  atHeatSinceMs: 0,
  expected: null,
  ...over,
});

/** A made-up line with 10 readings a second, or two where a time must be met exactly. */
class Bench {
  timeMs = 1_000_000;
  everyMs = 100;
  gaugeMm = 0;
  readonly tracker: StageTracker;
  readonly passed: Stage[] = [];
  state: StageState = {
    stage: 'stopped',
    setByUser: false,
    sinceMs: Number.NaN,
    missing: [],
    hotWhenFirstSeen: false,
    sameStrand: false,
    firstReadyMs: null,
    soakSkipped: null,
  };

  constructor(options: Partial<StageOptions> = {}) {
    this.tracker = new StageTracker({ ...OPTIONS, ...options });
  }

  run(
    seconds: number,
    line: {
      diameterMm?: number | (() => number);
      speed?: number;
      /** NaN = the line does not send its speed, but moves at `speed`. */
      sentSpeed?: number;
      zones?: readonly ZoneStatus[];
      length?: boolean;
      /** The winder's turn counter is counting. */
      isWinding?: boolean;
    },
  ): StageState {
    for (let i = 0; i < (seconds * 1000) / this.everyMs; i++) {
      const speed = line.speed ?? 0;
      const d = line.diameterMm ?? Number.NaN;
      this.timeMs += this.everyMs;
      if (line.length !== false) this.gaugeMm += (speed * this.everyMs) / 1000;
      const input: StageInput = {
        timeMs: this.timeMs,
        gaugeMm: this.gaugeMm,
        diameterMm: typeof d === 'function' ? d() : d,
        speedMmPerS: line.sentSpeed ?? speed,
        zones: line.zones ?? [],
        isWinding: line.isWinding ?? false,
      };
      this.state = this.tracker.step(input);
      if (this.passed.at(-1) !== this.state.stage) this.passed.push(this.state.stage);
    }
    return this.state;
  }
}

const cold = [
  zone({
    doing: 'off',
    temperatureC: 21,
    setpointC: 0,
    power: 0,
    atHeatSinceMs: null,
  }),
];
const heating = [zone({ doing: 'heating', temperatureC: 120, power: 1, atHeatSinceMs: null })];
const hot = [zone({ atHeatSinceMs: 0 })];
/** Becomes winding within a minute. */
const RUNNING = { zones: hot, diameterMm: 1.75, speed: 40 };
const PURGING = { zones: hot, diameterMm: 1.2, speed: 40 };

describe('the automatic stage', () => {
  it('goes from stopped through heating and purging to winding, and back when the line is shut down', () => {
    const bench = new Bench();
    bench.run(10, { zones: cold, diameterMm: 0 });
    bench.run(60, { zones: heating, diameterMm: 0 });
    bench.run(60, { zones: hot, diameterMm: 0 });
    bench.run(20, { zones: hot, diameterMm: 1.2, speed: 40 });
    bench.run(120, { zones: hot, diameterMm: 1.75, speed: 40 });
    bench.run(120, { zones: hot, diameterMm: 0, speed: 0 });
    bench.run(120, { zones: cold, diameterMm: 0, speed: 0 });
    expect(bench.passed).toEqual(['stopped', 'heating', 'purging', 'winding', 'heating', 'stopped']);
  });

  it('is ready to wind once for each strand, whether winding then starts by itself or by hand', () => {
    const bench = new Bench();
    expect(bench.run(20, RUNNING).firstReadyMs).toBeNull();
    const { firstReadyMs, sinceMs, stage } = bench.run(30, RUNNING);
    expect([stage, firstReadyMs]).toEqual(['winding', sinceMs]);
    expect(bench.run(60, RUNNING).firstReadyMs).toBe(firstReadyMs);
    expect(bench.run(120, { zones: hot, diameterMm: 0 }).firstReadyMs).toBeNull();

    const byHand = new Bench();
    byHand.run(5, RUNNING);
    byHand.tracker.override('purging', byHand.timeMs);
    const ready = byHand.run(60, RUNNING).firstReadyMs;
    expect(ready).not.toBeNull();
    expect(byHand.run(60, PURGING).firstReadyMs).toBe(ready);
    expect(byHand.run(60, RUNNING).firstReadyMs).toBe(ready);
    const counted = new Bench();
    expect(counted.run(10, { ...RUNNING, isWinding: true })).toMatchObject({ stage: 'winding', firstReadyMs: null });
  });

  it('is announced as ready once, and not if it was ready before anyone looked', () => {
    const seen: (number | null)[] = [null, 5, 5, null, 9];
    expect(seen.map((now, at) => becomesReady(at === 0 ? null : seen[at - 1], now))).toEqual([
      false,
      true,
      false,
      false,
      true,
    ]);
    expect(becomesReady(undefined, 5)).toBe(false);
  });

  it('becomes winding only once the set length in a row is within tolerance', () => {
    const bench = new Bench();
    bench.run(30, { zones: hot, diameterMm: 1.75, speed: 40 });
    expect(bench.state.stage).toBe('purging');
    bench.run(3, { zones: hot, diameterMm: 1.9, speed: 40 });
    bench.run(35, { zones: hot, diameterMm: 1.75, speed: 40 });
    expect(bench.state.stage).toBe('purging');
    bench.run(5, { zones: hot, diameterMm: 1.75, speed: 40 });
    expect(bench.state.stage).toBe('winding');
  });

  it('settles in spite of a noisy gauge', () => {
    const bench = new Bench();
    const gauss = normal(seeded(3));
    bench.run(60, {
      zones: hot,
      diameterMm: () => 1.75 + 0.02 * gauss(),
      speed: 40,
    });
    expect(bench.state.stage).toBe('winding');
  });

  it('does not become winding while a zone is off its set-point', () => {
    const bench = new Bench();
    const zones = [zone(), zone({ zone: 3, temperatureC: 188, atHeatSinceMs: null })];
    bench.run(120, { zones, diameterMm: 1.75, speed: 40 });
    expect(bench.state.stage).toBe('purging');
    expect(bench.state.missing).toEqual(['Die is 12 °C below its set-point']);
    bench.run(1, { zones: hot, diameterMm: 1.75, speed: 40 });
    expect(bench.state.stage).toBe('winding');
  });

  it('stays winding over a blob, a cooling zone, a short break and a short stop', () => {
    const bench = new Bench();
    bench.run(60, { zones: hot, diameterMm: 1.75, speed: 40 });
    expect(bench.state.stage).toBe('winding');
    bench.run(2, { zones: hot, diameterMm: 2.2, speed: 40 });
    bench.run(60, { zones: heating, diameterMm: 1.68, speed: 40 });
    bench.run(20, { zones: hot, diameterMm: 0, speed: 40 });
    bench.run(20, { zones: hot, diameterMm: 1.75, speed: 40 });
    bench.run(40, { zones: hot, diameterMm: 1.75, speed: 0 });
    expect(bench.passed).toEqual(['stopped', 'purging', 'winding']);
    expect(bench.state.missing).toEqual([]);
  });

  it('leaves winding when the strand stays lost or stands still for long', () => {
    const lost = new Bench();
    lost.run(60, { zones: hot, diameterMm: 1.75, speed: 40 });
    lost.run(40, { zones: hot, diameterMm: 0, speed: 40 });
    expect(lost.passed.slice(2)).toEqual(['winding', 'heating']);
    // After rethreading it must settle again.
    lost.run(20, { zones: hot, diameterMm: 1.75, speed: 40 });
    expect(lost.state.stage).toBe('purging');
    lost.run(40, { zones: hot, diameterMm: 1.75, speed: 40 });
    expect(lost.state.stage).toBe('winding');

    const still = new Bench();
    still.run(60, { zones: hot, diameterMm: 1.75, speed: 40 });
    still.run(70, { zones: hot, diameterMm: 1.75, speed: 0 });
    expect(still.passed.slice(2)).toEqual(['winding', 'heating']);
  });

  it.each([
    ['heats after 3 s of heating', [], { zones: heating, diameterMm: 0 }, 3, 'heating'],
    ['purges after 2 s of strand on a cold line', [], { zones: cold, diameterMm: 1.2, speed: 40 }, 2, 'purging'],
    [
      'purges after 2 s of strand on a hot line',
      [{ zones: hot }],
      { zones: hot, diameterMm: 1.2, speed: 40 },
      2,
      'purging',
    ],
    ['heats after 30 s of purging without strand', [PURGING], { zones: hot, diameterMm: 0, speed: 40 }, 30, 'heating'],
    ['stops after 60 s without heat', [{ zones: hot }], { zones: cold, diameterMm: 0 }, 60, 'stopped'],
    ['heats after 30 s without strand', [RUNNING], { zones: hot, diameterMm: 0, speed: 40 }, 30, 'heating'],
    ['stops after 30 s without strand or heat', [RUNNING], { zones: cold, diameterMm: 0, speed: 40 }, 30, 'stopped'],
    ['heats after 60 s without movement', [RUNNING], { zones: hot, diameterMm: 1.75, speed: 0 }, 60, 'heating'],
  ] as const)('%s, not sooner', (_, before, line, afterS, stage) => {
    const bench = new Bench();
    bench.everyMs = 500;
    for (const earlier of before) bench.run(60, earlier);
    const from = bench.run(1, before.at(-1) ?? { zones: cold, diameterMm: 0 }).stage;
    expect(bench.run(afterS - 0.5, line).stage).toBe(from);
    expect(bench.run(0.5, line).stage).toBe(stage);
  });

  it.each([
    // The first reading of the strand only starts the count.
    ['the set length', {}, 38],
    ['a minute, where neither speed nor length is known', { sentSpeed: Number.NaN, length: false }, 60.5],
  ])('winds once the strand has been within tolerance for %s', (_, sent, afterS) => {
    const bench = new Bench();
    bench.everyMs = 500;
    expect(bench.run(afterS - 0.5, { ...RUNNING, ...sent }).stage).toBe('purging');
    expect(bench.run(0.5, { ...RUNNING, ...sent }).stage).toBe('winding');
  });

  it('takes a diameter at the limit of presence as strand', () => {
    const bench = new Bench();
    bench.run(5, { ...PURGING, diameterMm: 0.499 });
    expect(bench.state.stage).toBe('heating');
    bench.run(5, { ...PURGING, diameterMm: 0.5 });
    expect(bench.state.stage).toBe('purging');
  });

  it('counts a pause in the readings for 2 s at most', () => {
    const bench = new Bench();
    bench.run(60, RUNNING);
    bench.timeMs += 3_600_000;
    expect(bench.run(20, { zones: hot, diameterMm: 0, speed: 40 }).stage).toBe('winding');
  });

  it('winds once the winder turns, even if the strand has not settled, but never without strand', () => {
    const bench = new Bench();
    bench.run(60, { zones: hot, diameterMm: 0, isWinding: true });
    expect(bench.state.stage).toBe('heating');
    bench.run(10, { zones: hot, diameterMm: 1.2, speed: 40 });
    expect(bench.state.stage).toBe('purging');
    bench.run(0.1, { zones: hot, diameterMm: 1.2, speed: 40, isWinding: true });
    expect(bench.state.stage).toBe('winding');
  });

  it('keeps the strand over values that are missing', () => {
    const bench = new Bench();
    bench.run(60, RUNNING);
    expect(bench.run(40, { zones: hot, speed: 40 }).stage).toBe('winding');
  });

  it('counts only strand that is measured as settled', () => {
    const bench = new Bench();
    bench.run(20, RUNNING);
    expect(bench.run(60, { zones: hot, speed: 40 }).stage).toBe('purging');
  });

  it('does not count the time in which the strand stands still as settled', () => {
    const bench = new Bench();
    bench.run(30, { ...RUNNING, length: false });
    expect(bench.run(40, { ...RUNNING, length: false, speed: 0 }).stage).toBe('purging');
  });

  it('counts settled strand from when it reaches the gauge, and again after a break', () => {
    const whole = new Bench();
    whole.run(38.5, RUNNING);
    expect(whole.state.stage).toBe('winding');
    const broken = new Bench();
    broken.run(30, RUNNING);
    broken.run(5, { ...RUNNING, diameterMm: 0 });
    expect(broken.run(30, RUNNING).stage).toBe('purging');
    expect(broken.run(10, RUNNING).stage).toBe('winding');
  });

  it.each([
    ['was pulled out while the line stood still', { ...RUNNING, speed: 0, diameterMm: 0 }, 5],
    ['stood still for a minute', { ...RUNNING, speed: 0 }, 60],
  ])('lets strand settle again that %s before it was wound', (_, line, seconds) => {
    const bench = new Bench();
    bench.run(30, RUNNING);
    bench.run(seconds, line);
    expect(bench.run(30, RUNNING).stage).toBe('purging');
    expect(bench.run(10, RUNNING).stage).toBe('winding');
  });

  it('lets the strand settle again after the gauge was empty for long', () => {
    const bench = new Bench();
    bench.run(60, RUNNING);
    bench.run(70, { ...RUNNING, speed: 0, diameterMm: 0 });
    expect(bench.run(30, RUNNING).stage).toBe('purging');
    expect(bench.run(20, RUNNING).stage).toBe('winding');
  });

  it('takes a creeping puller as standing still, and a slow one as moving', () => {
    const creeping = new Bench();
    creeping.run(60, { ...RUNNING, speed: 0.3 });
    expect(creeping.state.stage).toBe('heating');
    const slow = new Bench();
    slow.run(60, { ...RUNNING, speed: 0.4 });
    expect(slow.state.stage).toBe('purging');
  });

  it('says since when the line is in its stage', () => {
    const bench = new Bench();
    const firstMs = bench.timeMs + 100;
    expect(bench.run(10, { zones: cold, diameterMm: 0 }).sinceMs).toBe(firstMs);
    const { sinceMs } = bench.run(10, { zones: heating, diameterMm: 0 });
    expect(sinceMs - firstMs).toBeGreaterThan(12_000);
    expect(sinceMs - firstMs).toBeLessThan(14_000);
  });

  it('works on a line without temperatures', () => {
    const bench = new Bench();
    bench.run(10, { diameterMm: 0 });
    bench.run(60, { diameterMm: 1.75, speed: 40 });
    bench.run(120, { diameterMm: 0 });
    expect(bench.passed).toEqual(['stopped', 'purging', 'winding', 'stopped']);
  });

  it('works on a line that sends temperatures but no set-points', () => {
    const bench = new Bench();
    const zones = (temperatureC: number) => [
      zone({
        doing: 'unknown',
        temperatureC,
        setpointC: null,
        power: null,
        atHeatSinceMs: null,
      }),
    ];
    bench.run(10, { zones: zones(22), diameterMm: 0 });
    bench.run(30, { zones: zones(150), diameterMm: 0 });
    bench.run(60, { zones: zones(200), diameterMm: 1.75, speed: 40 });
    expect(bench.passed).toEqual(['stopped', 'heating', 'purging', 'winding']);
  });

  it('works where the speed is unknown but the length is counted, and where neither is known', () => {
    const counted = new Bench();
    counted.run(60, { diameterMm: 1.75, speed: 40, sentSpeed: Number.NaN });
    counted.run(70, { diameterMm: 1.75, speed: 0, sentSpeed: Number.NaN });
    expect(counted.passed).toEqual(['stopped', 'purging', 'winding', 'stopped']);

    const blind = new Bench();
    const line = { speed: 40, sentSpeed: Number.NaN, length: false };
    blind.run(30, { ...line, diameterMm: 1.75 });
    expect(blind.state.stage).toBe('purging');
    expect(blind.state.missing).toEqual([
      'set the strand speed in Set-up, or places on the spool stay unknown',
      expect.stringMatching(/^the strand must settle \(\d+ of 60 s within tolerance\)$/),
    ]);
    blind.run(60, { ...line, diameterMm: 1.75 });
    expect(blind.state.stage).toBe('winding');
    blind.run(60, { ...line, diameterMm: 0 });
    expect(blind.state.stage).toBe('stopped');
  });

  it('continues from the stage before the service restarted', () => {
    const tracker = new StageTracker(OPTIONS, {
      stage: 'winding',
      setByUser: false,
      sinceMs: 5,
    });
    const state = tracker.step({
      timeMs: 9_000_000,
      gaugeMm: 0,
      diameterMm: 1.75,
      speedMmPerS: 40,
      zones: hot,
    });
    expect(state).toEqual({
      stage: 'winding',
      setByUser: false,
      sinceMs: 5,
      missing: [],
      hotWhenFirstSeen: false,
      sameStrand: false,
      firstReadyMs: null,
      soakSkipped: null,
    });
  });
});

describe('winding after the line stood still', () => {
  const STANDING = { ...RUNNING, speed: 0 };
  const NO_VALUE = { zones: hot, speed: 0 };
  const EMPTY = { ...STANDING, diameterMm: 0 };

  /** Has wound, and stands still with the strand in the gauge. */
  function standing(): Bench {
    const bench = new Bench();
    bench.everyMs = 500;
    bench.run(60, RUNNING);
    expect(bench.state).toMatchObject({ stage: 'winding', sameStrand: false });
    bench.run(60, STANDING);
    expect(bench.state).toMatchObject({ stage: 'heating', sameStrand: true });
    return bench;
  }

  it('continues without settling where the strand stayed in the gauge', () => {
    const bench = standing();
    bench.run(600, STANDING);
    bench.run(2, RUNNING);
    expect(bench.state).toMatchObject({ stage: 'winding', sameStrand: true });
    // A short break while winding does not change how it started.
    bench.run(20, { ...RUNNING, diameterMm: 0 });
    expect(bench.run(20, RUNNING)).toMatchObject({ stage: 'winding', sameStrand: true });
  });

  it.each([
    ['the gauge was empty for a moment', EMPTY, 1],
    ['values were missing for half a minute', NO_VALUE, 29.5],
  ])('continues where %s', (_, line, seconds) => {
    const bench = standing();
    bench.run(seconds, line);
    bench.run(5, RUNNING);
    expect(bench.state).toMatchObject({ stage: 'winding', sameStrand: true });
  });

  it.each([
    ['the gauge was empty for longer', EMPTY, 1.5],
    ['values were missing for longer', NO_VALUE, 30],
  ])('needs the strand to settle where %s', (_, line, seconds) => {
    const bench = standing();
    bench.run(seconds, line);
    bench.run(5, RUNNING);
    expect(bench.state).toMatchObject({ stage: 'purging', sameStrand: false });
  });

  it('says that the strand may be another one as soon as it has not been seen for too long', () => {
    const bench = standing();
    expect(bench.run(30, NO_VALUE).sameStrand).toBe(true);
    expect(bench.run(0.5, NO_VALUE).sameStrand).toBe(false);
  });

  it.each([
    ['continues after half a minute without readings', 0, 29.5, true],
    ['starts again after a longer time without readings', 0, 30, false],
    ['starts again after a pause in the readings that followed missing values', 20, 20, false],
  ])('%s', (_, noValueS, pauseS, sameStrand) => {
    const bench = standing();
    bench.run(noValueS, NO_VALUE);
    bench.timeMs += pauseS * 1000;
    expect(bench.run(0.5, STANDING).sameStrand).toBe(sameStrand);
    expect(bench.run(5, RUNNING).stage).toBe(sameStrand ? 'winding' : 'purging');
  });

  it('does not add up short times in which the strand was not seen', () => {
    const bench = standing();
    for (let i = 0; i < 10; i++) {
      bench.run(10, NO_VALUE);
      bench.run(0.5, { ...STANDING, diameterMm: OPTIONS.strandPresentMm });
    }
    expect(bench.state.sameStrand).toBe(true);
  });

  it('starts again where the strand was lost before the line stopped', () => {
    const bench = new Bench();
    bench.run(60, RUNNING);
    expect(bench.run(40, { ...RUNNING, diameterMm: 0 })).toMatchObject({ stage: 'heating', sameStrand: false });
  });
});

describe('winding that a user continues on the same spool', () => {
  it('starts at once, with nothing missing', () => {
    const bench = new Bench();
    bench.run(60, RUNNING);
    bench.run(40, { ...RUNNING, diameterMm: 0 });
    bench.tracker.override('purging', bench.timeMs);
    expect(bench.run(10, PURGING).missing).not.toEqual([]);
    expect(bench.tracker.continueWinding(bench.timeMs)).toEqual({
      stage: 'winding',
      setByUser: false,
      sinceMs: bench.timeMs,
      missing: [],
      hotWhenFirstSeen: false,
      sameStrand: true,
      firstReadyMs: null,
      soakSkipped: null,
    });
  });

  it('keeps its start where the line is already winding', () => {
    const bench = new Bench();
    const before = bench.run(60, RUNNING);
    expect(bench.tracker.continueWinding(bench.timeMs)).toEqual({ ...before, sameStrand: true });
  });

  it.each([
    ['without strand', { ...RUNNING, diameterMm: 0 }, 30],
    ['standing still', { ...RUNNING, speed: 0 }, 60],
  ])('has the full time %s before it is over', (_, line, leavesAfterS) => {
    const bench = new Bench();
    bench.everyMs = 500;
    bench.run(60, RUNNING);
    bench.run(100, line);
    bench.tracker.continueWinding(bench.timeMs);
    expect(bench.run(leavesAfterS - 0.5, line)).toMatchObject({ stage: 'winding', sameStrand: true });
    expect(bench.run(0.5, line).stage).toBe('heating');
  });
});

describe('a stage set by a user', () => {
  it('holds against every sign until the stage is automatic again', () => {
    const bench = new Bench();
    bench.run(10, { zones: cold, diameterMm: 0 });
    const state = bench.tracker.override('winding', bench.timeMs);
    expect(state).toMatchObject({
      stage: 'winding',
      setByUser: true,
      sinceMs: bench.timeMs,
    });
    bench.run(300, { zones: cold, diameterMm: 0 });
    expect(bench.state.stage).toBe('winding');
    expect(bench.tracker.override(null, bench.timeMs).setByUser).toBe(false);
    bench.run(10, { zones: cold, diameterMm: 0 });
    expect(bench.state.stage).toBe('winding');
    bench.run(90, { zones: cold, diameterMm: 0 });
    expect(bench.state.stage).toBe('stopped');
  });

  it('also prevents winding', () => {
    const bench = new Bench();
    bench.run(10, { zones: hot, diameterMm: 1.75, speed: 40 });
    bench.tracker.override('purging', bench.timeMs);
    bench.run(200, { zones: hot, diameterMm: 1.75, speed: 40 });
    expect(bench.state).toMatchObject({ stage: 'purging', setByUser: true, missing: [] });
    bench.tracker.override(null, bench.timeMs);
    bench.run(1, { zones: hot, diameterMm: 1.75, speed: 40 });
    expect(bench.state.stage).toBe('winding');
  });
});

describe('a stage that a user sets or confirms', () => {
  it('does not ask settled strand to settle again', () => {
    const bench = new Bench();
    expect(bench.run(39, RUNNING).stage).toBe('winding');
    bench.tracker.override('purging', bench.timeMs);
    expect(bench.run(1, RUNNING)).toMatchObject({ stage: 'purging', missing: [] });
  });

  it('is winding with nothing missing at once', () => {
    const bench = new Bench();
    expect(bench.run(10, { zones: cold, diameterMm: 0 }).missing).not.toEqual([]);
    expect(bench.tracker.override('winding', bench.timeMs)).toEqual({
      stage: 'winding',
      setByUser: true,
      sinceMs: bench.timeMs,
      missing: [],
      hotWhenFirstSeen: false,
      sameStrand: false,
      firstReadyMs: null,
      soakSkipped: null,
    });
  });

  it('keeps its start and what is missing if it is the current one', () => {
    const bench = new Bench();
    const before = bench.run(10, { zones: cold, diameterMm: 0 });
    expect(bench.tracker.override('stopped', bench.timeMs)).toEqual({ ...before, setByUser: true });
  });

  it('starts when it is set, even before the first reading', () => {
    const { tracker } = new Bench();
    expect(tracker.override('stopped', 5000)).toEqual({
      stage: 'stopped',
      setByUser: true,
      sinceMs: 5000,
      missing: [],
      hotWhenFirstSeen: false,
      sameStrand: false,
      firstReadyMs: null,
      soakSkipped: null,
    });
    expect(tracker.override('purging', 7000)).toMatchObject({ stage: 'purging', sinceMs: 7000 });
  });

  it('stays as set by the user when the service restarts', () => {
    const tracker = new StageTracker(OPTIONS, { stage: 'purging', setByUser: true, sinceMs: 5 });
    const state = tracker.step({
      timeMs: 9000,
      gaugeMm: 0,
      diameterMm: 1.75,
      speedMmPerS: 40,
      zones: hot,
      isWinding: true,
    });
    expect(state).toMatchObject({ stage: 'purging', setByUser: true, sinceMs: 5 });
  });

  it.each([
    ['heating', { zones: cold, diameterMm: 0 }, 60],
    ['winding', { zones: hot, diameterMm: 0, speed: 40 }, 30],
    ['winding', { zones: hot, diameterMm: 1.75, speed: 0 }, 60],
  ] as const)('stays %s for the full time once the stage is automatic again', (stage, line, leavesAfterS) => {
    const bench = new Bench();
    bench.tracker.override(stage, bench.timeMs);
    bench.run(300, line);
    bench.tracker.override(null, bench.timeMs);
    expect(bench.run(leavesAfterS - 1, line).stage).toBe(stage);
    expect(bench.run(2, line).stage).not.toBe(stage);
  });
});

describe('a zone', () => {
  const silent = { doing: 'unknown', temperatureC: null, setpointC: null, power: null, atHeatSinceMs: null } as const;

  it.each<[string, Partial<ZoneStatus>]>([
    ['has a set-point and takes power', { setpointC: 200, power: 0.1 }],
    ['has a set-point and warms up', { setpointC: 200, doing: 'heating' }],
    ['holds a low set-point', { setpointC: 40, doing: 'holding', temperatureC: 40 }],
    ['has a set-point and a failed sensor', { setpointC: 200, doing: 'faulty' }],
    ['is away from a low set-point', { setpointC: 44, doing: 'away', temperatureC: 30 }],
    ['has a set-point and is warm', { setpointC: 200, temperatureC: 46, power: 0 }],
    ['has no set-point, but takes power', { power: 0.1 }],
    ['has no set-point, but warms up', { doing: 'heating', power: 0 }],
    ['sends only a temperature above that of a workshop', { temperatureC: 46 }],
  ])('counts as heated if it %s', (_, sent) => {
    expect(isHeated(zone({ ...silent, ...sent }))).toBe(true);
  });

  it.each<[string, Partial<ZoneStatus>]>([
    ['is switched off, however hot it is', { setpointC: 0, doing: 'cooling', temperatureC: 190, power: 0.2 }],
    ['has a set-point, but is as cold as a workshop', { setpointC: 200, temperatureC: 45, power: 0 }],
    ['has a set-point and sends nothing else', { setpointC: 200 }],
    ['takes no power and cools down', { temperatureC: 150, power: 0, doing: 'cooling' }],
    ['sends only a temperature like that of a workshop', { temperatureC: 45 }],
    ['sends nothing', {}],
  ])('does not count as heated if it %s', (_, sent) => {
    expect(isHeated(zone({ ...silent, ...sent }))).toBe(false);
  });
});

describe('what is missing before winding', () => {
  const missing = (zones: readonly ZoneStatus[], line: { diameterMm?: number; speed?: number }, seconds = 2) => {
    const bench = new Bench();
    return bench.run(seconds, { zones, ...line }).missing;
  };

  it('names cold, hot, silent and unsteady zones by their names', () => {
    expect(
      missing(
        [
          zone({ temperatureC: 188.2, atHeatSinceMs: null }),
          zone({ zone: 2, temperatureC: 207, atHeatSinceMs: null }),
          zone({ zone: 3, temperatureC: null, atHeatSinceMs: null }),
          zone({ zone: 4, temperatureC: 199.9, atHeatSinceMs: null }),
          zone({ zone: 5, temperatureC: 199, atHeatSinceMs: null }),
        ],
        { diameterMm: 1.75, speed: 0 },
      ),
    ).toEqual([
      'Feed zone is 12 °C below its set-point',
      'Melt zone is 7 °C above its set-point',
      'Die sends no temperature',
      'Zone 4 is not yet steady at its set-point',
      'Zone 5 is 1 °C below its set-point',
      'the strand is standing still',
    ]);
  });

  it('counts down the soak in whole minutes until the screw turns', () => {
    const bench = new Bench();
    const zones = [zone({ atHeatSinceMs: bench.timeMs - 6 * 60_000 })];
    expect(bench.run(2, { zones, diameterMm: 0 }).missing).toEqual(['soak 4 min', 'no strand in the gauge yet']);
    expect(bench.run(10, { zones, diameterMm: 1.75, speed: 40 }).missing).toEqual([
      'the strand must settle (0.3 of 1.5 m within tolerance)',
    ]);
  });

  it('says how much of the soak was left when the strand came, for as long as that strand lasts', () => {
    const bench = new Bench();
    const zones = [zone({ atHeatSinceMs: bench.timeMs - 6 * 60_000 })];
    expect(bench.run(5, { zones, diameterMm: 0 }).soakSkipped).toBeNull();
    const text = 'The soak was skipped: 4 of 10 min were left when the strand came.';
    expect(bench.run(5, { zones, diameterMm: 1.75, speed: 40 })).toMatchObject({ stage: 'purging', soakSkipped: text });
    // Also once the time has passed: the screw turned before.
    expect(bench.run(300, { zones, diameterMm: 1.75, speed: 40 })).toMatchObject({
      stage: 'winding',
      soakSkipped: text,
    });
    expect(bench.run(60, { zones, diameterMm: 0 })).toMatchObject({ stage: 'heating', soakSkipped: null });
    expect(bench.run(5, { zones, diameterMm: 1.75, speed: 40 })).toMatchObject({ stage: 'purging', soakSkipped: null });
  });

  it.each<[string, readonly ZoneStatus[], number, string | null]>([
    ['the whole of it where a zone is not at temperature', heating, 10, '10 of 10'],
    ['nothing where no soak is wanted', [zone({ atHeatSinceMs: 1_000_000 })], 0, null],
    ['nothing where no set-point asks for heat', [zone({ setpointC: null, atHeatSinceMs: null })], 10, null],
    ['nothing after the soak', hot, 10, null],
  ])('says of a skipped soak %s', (_what, zones, soakMin, left) => {
    const bench = new Bench({ soakMin });
    bench.run(5, { zones, diameterMm: 0 });
    expect(bench.state.stage).toBe('heating');
    const { soakSkipped } = bench.run(5, { zones, diameterMm: 1.75, speed: 40 });
    if (left === null) expect(soakSkipped).toBeNull();
    else expect(soakSkipped).toContain(left);
  });

  it('does not claim that a line which was hot when it was first seen still needs the whole soak', () => {
    const bench = new Bench();
    const zones = [zone({ atHeatSinceMs: bench.timeMs })];
    const state = bench.run(90, { zones, diameterMm: 0 });
    expect(state).toMatchObject({
      hotWhenFirstSeen: true,
      missing: ['soak up to 9 min', 'no strand in the gauge yet'],
    });
    expect(missingForScrew(zones, [''], { ...state, soakMin: 10 }, bench.timeMs)).toEqual(['soak up to 9 min']);
  });

  it('claims no skipped soak of a line that was hot or running when it was first seen', () => {
    const running = new Bench();
    const zones = [zone({ atHeatSinceMs: running.timeMs })];
    expect(running.run(10, { zones, diameterMm: 1.75, speed: 40 })).toMatchObject({
      stage: 'purging',
      soakSkipped: null,
    });
    const hotAtFirst = new Bench();
    hotAtFirst.run(5, { zones, diameterMm: 0 });
    expect(hotAtFirst.run(5, { zones, diameterMm: 1.75, speed: 40 })).toMatchObject({
      stage: 'purging',
      soakSkipped: null,
    });
  });

  it('knows of a soak that was skipped by a user who set the stage', () => {
    const set = new Bench();
    set.run(5, { zones: heating, diameterMm: 0 });
    expect(set.tracker.override('winding', set.timeMs).soakSkipped).toContain('10 of 10 min');
  });

  it('includes heaters that are off', () => {
    expect(missing(cold, { diameterMm: 0 })).toEqual(['the heaters are off', 'no strand in the gauge yet']);
  });

  it('does not ask for heat from zones that are switched off while others heat', () => {
    const off = zone({ zone: 2, setpointC: 0, power: 0, temperatureC: 21, atHeatSinceMs: null });
    expect(missing([zone(), off], { diameterMm: 0 })).toEqual(['no strand in the gauge yet']);
  });

  it('says nothing of heat where no set-point is sent', () => {
    const zones = [zone({ setpointC: null, atHeatSinceMs: null })];
    expect(missing(zones, { diameterMm: 0 })).toEqual(['no strand in the gauge yet']);
    expect(missing([], { diameterMm: 0 })).toEqual(['no strand in the gauge yet']);
  });

  it('does not count the soak before all zones are at temperature', () => {
    const late = zone({ zone: 2, temperatureC: 150, atHeatSinceMs: null });
    expect(missing([zone({ atHeatSinceMs: 1_000_000 }), late], { diameterMm: 0 })).toEqual([
      'Melt zone is 50 °C below its set-point',
      'no strand in the gauge yet',
    ]);
  });

  it('follows each change', () => {
    const bench = new Bench();
    bench.run(30, { zones: heating, diameterMm: 0 });
    const zones = [zone({ atHeatSinceMs: bench.timeMs })];
    const line = { zones, diameterMm: 0 };
    expect(bench.run(30, line).missing).toEqual(['soak 10 min', 'no strand in the gauge yet']);
    expect(bench.run(60, line).missing).toEqual(['soak 9 min', 'no strand in the gauge yet']);
    expect(bench.run(1, { zones, diameterMm: 1.2 }).missing).toEqual(['soak 9 min', 'the strand is standing still']);
    expect(bench.run(540, line).missing).toEqual(['no strand in the gauge yet']);
  });

  it('has no soak where nothing is heated by set-point, whatever the clock shows', () => {
    const bench = new Bench();
    bench.timeMs = 0;
    const zones = [zone({ setpointC: null, atHeatSinceMs: null })];
    expect(bench.run(2, { zones, diameterMm: 0 }).missing).toEqual(['no strand in the gauge yet']);
  });

  it('includes the speed only while there is strand whose length is not counted', () => {
    const noSpeed = { zones: hot, sentSpeed: Number.NaN };
    expect(new Bench().run(2, { ...noSpeed, diameterMm: 0 }).missing).toEqual(['no strand in the gauge yet']);
    expect(new Bench().run(2, { ...noSpeed, diameterMm: 1.75, speed: 40 }).missing).toEqual([
      'the strand must settle (0.0 of 1.5 m within tolerance)',
    ]);
  });

  it('includes strand that stands still once its length has not grown for 3 s', () => {
    const bench = new Bench();
    bench.everyMs = 500;
    const line = { ...PURGING, sentSpeed: Number.NaN };
    bench.run(10, line);
    expect(bench.run(2.5, { ...line, speed: 0 }).missing).not.toContain('the strand is standing still');
    expect(bench.run(0.5, { ...line, speed: 0 }).missing).toContain('the strand is standing still');
  });

  it('includes the strand until a diameter arrives', () => {
    expect(missing(hot, {})).toEqual(['no strand in the gauge yet']);
  });

  it('changes four times a second at most', () => {
    const changes = (everyMs: number) => {
      const bench = new Bench();
      bench.everyMs = everyMs;
      const lists = new Set<readonly string[]>();
      for (let i = 0; i < 20; i++) {
        const zones = [zone({ temperatureC: 100 + 2 * i, atHeatSinceMs: null })];
        lists.add(bench.run(everyMs / 1000, { zones, diameterMm: 0, speed: 0 }).missing);
      }
      return lists.size;
    };
    // 10 readings a second: every third one.
    expect([changes(100), changes(250)]).toEqual([7, 20]);
  });

  it('is the same object while nothing changes', () => {
    const bench = new Bench();
    const before = bench.run(5, { zones: cold, diameterMm: 0 });
    expect(bench.run(5, { zones: cold, diameterMm: 0 })).toBe(before);
  });
});

describe('before the screw turns', () => {
  const missing = (zones: ZoneStatus[], timeMs: number) =>
    missingForScrew(zones, ['Feed zone', ''], { soakMin: 10, hotWhenFirstSeen: false }, timeMs);
  it('counts the soak down, then nothing is missing', () => {
    expect(missing([zone()], 4 * 60_000)).toEqual(['soak 6 min']);
    expect(missing([zone()], 10 * 60_000)).toEqual([]);
  });
  it('asks the user to check the soak where no set-point is sent', () => {
    const [phrase, ...more] = missing([zone({ setpointC: null, atHeatSinceMs: null })], 3_600_000);
    expect(phrase).toContain('no set-point is sent');
    expect(more).toEqual([]);
  });
  it('names what the heat lacks before the soak', () => {
    const zones = [zone({ temperatureC: 190, atHeatSinceMs: null })];
    expect(missing(zones, 0)).toEqual(['Feed zone is 10 °C below its set-point']);
  });
  it('numbers a zone whose name is empty', () => {
    const zones = [zone(), zone({ zone: 2, temperatureC: 190, atHeatSinceMs: null })];
    expect(missing(zones, 0)).toEqual(['Zone 2 is 10 °C below its set-point']);
  });
  it('soaks from when the last zone that is heated reached heat', () => {
    const off = zone({ setpointC: 0, atHeatSinceMs: null });
    expect(allAtHeatSinceMs([zone({ atHeatSinceMs: 5000 }), zone({ atHeatSinceMs: 9000 }), off])).toBe(9000);
    expect(allAtHeatSinceMs([zone({ atHeatSinceMs: 9000 }), zone({ atHeatSinceMs: 5000 })])).toBe(9000);
    expect(allAtHeatSinceMs([off])).toBeNull();
    expect(allAtHeatSinceMs([zone({ atHeatSinceMs: 5000 }), zone({ atHeatSinceMs: null })])).toBeNull();
  });
});
