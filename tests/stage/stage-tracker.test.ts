import { describe, expect, it } from 'vitest';
import type { ZoneStatus } from '../../server/heat/zone-status.ts';
import type { Stage } from '../../server/stage/stage.ts';
import { missingForScrew } from '../../server/stage/stage-readiness.ts';
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

/** A made-up line with 10 readings a second. */
class Bench {
  timeMs = 1_000_000;
  gaugeMm = 0;
  readonly tracker: StageTracker;
  readonly passed: Stage[] = [];
  state: StageState = { stage: 'stopped', setByUser: false, sinceMs: Number.NaN, missing: [], sameStrand: false };

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
    },
  ): StageState {
    for (let i = 0; i < seconds * 10; i++) {
      const speed = line.speed ?? 0;
      const d = line.diameterMm ?? Number.NaN;
      this.timeMs += 100;
      if (line.length !== false) this.gaugeMm += speed / 10;
      const input: StageInput = {
        timeMs: this.timeMs,
        gaugeMm: this.gaugeMm,
        diameterMm: typeof d === 'function' ? d() : d,
        speedMmPerS: line.sentSpeed ?? speed,
        zones: line.zones ?? [],
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
    expect(bench.state.missing).toEqual(['Die is 12 K below its set-point']);
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
      'no strand speed: set it in Set-up, or places on the spool stay unknown',
      expect.stringMatching(/^strand not settled: \d+ s of 60 s within tolerance$/),
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
      sameStrand: false,
    });
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

describe('what is missing before winding', () => {
  const missing = (zones: readonly ZoneStatus[], line: { diameterMm: number; speed?: number }, seconds = 2) => {
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
        ],
        { diameterMm: 1.75, speed: 0 },
      ),
    ).toEqual([
      'Feed zone is 12 K below its set-point',
      'Melt zone is 7 K above its set-point',
      'Die sends no temperature',
      'Zone 4 is not yet steady at its set-point',
      'strand stands still',
    ]);
  });

  it('counts down the soak in whole minutes until the screw turns', () => {
    const bench = new Bench();
    const zones = [zone({ atHeatSinceMs: bench.timeMs - 6 * 60_000 })];
    expect(bench.run(2, { zones, diameterMm: 0 }).missing).toEqual(['4 min of soaking', 'no strand in the gauge']);
    expect(bench.run(10, { zones, diameterMm: 1.75, speed: 40 }).missing).toEqual([
      'strand not settled: 0.3 m of 1.5 m within tolerance',
    ]);
  });

  it('includes heaters that are off', () => {
    expect(missing(cold, { diameterMm: 0 })).toEqual(['the heaters are off', 'no strand in the gauge']);
  });

  it('is the same object while nothing changes', () => {
    const bench = new Bench();
    const before = bench.run(5, { zones: cold, diameterMm: 0 });
    expect(bench.run(5, { zones: cold, diameterMm: 0 })).toBe(before);
  });
});

describe('before the screw turns', () => {
  const missing = (zones: ZoneStatus[], timeMs: number) => missingForScrew(zones, (n) => `Zone ${n}`, 10, timeMs);
  it('counts the soak down, then nothing is missing', () => {
    expect(missing([zone()], 4 * 60_000)).toEqual(['6 min of soaking']);
    expect(missing([zone()], 10 * 60_000)).toEqual([]);
  });
  it('asks the user to check the soak where no set-point is sent', () => {
    const [phrase, ...more] = missing([zone({ setpointC: null, atHeatSinceMs: null })], 3_600_000);
    expect(phrase).toContain('no set-point is sent');
    expect(more).toEqual([]);
  });
});
