import { describe, expect, test } from 'vitest';
import { Drifting } from '../../server/heat/drifting.ts';
import type { SlowRule, ZoneSituation } from '../../server/heat/heat-rule.ts';
import { Jumping } from '../../server/heat/jumping.ts';
import { Oscillating } from '../../server/heat/oscillating.ts';
import { RisingWithoutPower } from '../../server/heat/rising-without-power.ts';
import { SensorEnds } from '../../server/heat/sensor-ends.ts';
import { StandingHot } from '../../server/heat/standing-hot.ts';
import type { ZoneStatus } from '../../server/heat/zone-status.ts';
import { TRACE_S, type TraceView } from '../../server/heat/zone-trace.ts';
import { SENSOR_FAULT } from '../../server/reading/names.ts';
import { zoneSituation } from './zone-situation.ts';

const SETPOINT_C = 200;

/** A zone whose trace shows what is stated here, and nothing else. */
const situation = (trace: Partial<TraceView>, more: Partial<ZoneSituation> = {}): ZoneSituation =>
  zoneSituation(trace as TraceView, { setpointC: SETPOINT_C, ...more });

/** A rule that is shown a zone this far off its set-point, once a second. */
class Watched {
  readonly rule: SlowRule;
  power = 0.5;
  readonly #offsK: number[] = [];

  constructor(rule: SlowRule) {
    this.rule = rule;
  }

  /** What the rule says after so many seconds. */
  off(offK: number, seconds = 1, more: Partial<ZoneSituation> = {}): boolean {
    let active = false;
    for (let i = 0; i < seconds; i++) {
      this.#offsK.push(offK);
      const meanTemperature = (agoS: number) => SETPOINT_C + (this.#offsK.at(-1 - agoS) ?? this.#offsK[0]!);
      active = this.rule.check(
        situation({ meanTemperature, greatestPower: () => this.power }, more),
        this.#offsK.length * 1000,
      );
    }
    return active;
  }
}

describe('jumping', () => {
  /** What the rule says once a second about this number of jumps so far, second by second. */
  const judged = (rule: Jumping, jumpsAt: (second: number) => number, seconds: number): boolean[] =>
    Array.from({ length: seconds }, (_, s) => rule.check(situation({ jumps: jumpsAt(s) }), s * 1000));

  test('is six jumps in less than a minute, until half a minute without one', () => {
    const every = (stepS: number, most: number) => (s: number) => Math.min(most, Math.floor(s / stepS));
    // Jumps at 11, 22, … 66 s are 55 s apart; at 12, 24, … 72 s they are 60 s apart.
    const active = judged(new Jumping(), every(11, 6), 120);
    expect(active.indexOf(true)).toBe(66);
    expect(active.lastIndexOf(true)).toBe(66 + 29);
    expect(judged(new Jumping(), every(12, 6), 200)).not.toContain(true);
    expect(judged(new Jumping(), every(2, 5), 200)).not.toContain(true);
    // While it jumps on, it stays active.
    expect(judged(new Jumping(), every(11, 100), 300).slice(66)).not.toContain(false);
  });

  test('counts from when the zone is first seen, and again after a reset', () => {
    expect(judged(new Jumping(), () => 50, 5)).not.toContain(true);
    const rule = new Jumping();
    expect(judged(rule, (s) => (s === 0 ? 0 : 50), 2)).toEqual([false, true]);
    rule.reset();
    expect(judged(rule, () => 50, 2)).toEqual([false, false]);
  });
});

describe('oscillating', () => {
  /** Swings to alternate sides; what the rule says at the end of each. */
  const swings = (watched: Watched, count: number, offK = 13, eachS = 60, more: Partial<ZoneSituation> = {}) =>
    Array.from({ length: count }, (_, i) => watched.off(i % 2 === 0 ? offK : -offK, eachS, more));

  test('is six swings to alternate sides, each beyond 2.4 half bands', () => {
    expect(swings(new Watched(new Oscillating()), 7)).toEqual([false, false, false, false, false, true, true]);
    // Exactly 2.4 half bands of 5 K are not beyond, on either side.
    expect(swings(new Watched(new Oscillating()), 12, 12)).not.toContain(true);
    const oneSided = new Watched(new Oscillating());
    for (let i = 0; i < 6; i++) expect([oneSided.off(13, 30), oneSided.off(-12, 30)]).toEqual([false, false]);
    for (let i = 0; i < 6; i++) expect([oneSided.off(12, 30), oneSided.off(-13, 30)]).toEqual([false, false]);
    // The same side again is no swing.
    const watched = new Watched(new Oscillating());
    for (let i = 0; i < 12; i++) expect([watched.off(13, 30), watched.off(0, 30)]).toEqual([false, false]);
  });

  test('ends when no swing comes for ten minutes, and needs six again', () => {
    const watched = new Watched(new Oscillating());
    swings(watched, 6);
    expect(watched.off(0, 541)).toBe(true);
    expect(watched.off(0)).toBe(false);
    expect(swings(watched, 6)).toEqual([false, false, false, false, false, true]);
    expect(swings(new Watched(new Oscillating()), 8, 13, 601)).not.toContain(true);
    expect(swings(new Watched(new Oscillating()), 6, 13, 600)[5]).toBe(true);
  });

  test('needs a set-point that has been steady for five minutes, longer in a slow zone', () => {
    const all = (more: Partial<ZoneSituation>) => swings(new Watched(new Oscillating()), 6, 13, 60, more)[5];
    expect(all({ setpointSteadyS: 300 })).toBe(true);
    expect(all({ setpointSteadyS: 299 })).toBe(false);
    expect(all({ setpointSteadyS: 599, slowness: 2 })).toBe(false);
    expect([all({ setpointC: 0 }), all({ setpointC: Number.NaN })]).toEqual([false, false]);
    // A zone that was switched off has to swing six times again, not go on counting.
    const switched = new Watched(new Oscillating());
    swings(switched, 5);
    switched.off(-13, 60, { setpointC: 0 });
    expect(swings(switched, 6)).toEqual([false, false, false, false, false, true]);
    const watched = new Watched(new Oscillating());
    swings(watched, 6);
    expect([watched.off(Number.NaN), watched.off(13)]).toEqual([false, false]);
  });
});

describe('rising without power', () => {
  /** Whether a zone that is off and rises this fast is reported within two minutes. */
  const reported = (kPerS: number, neighboursHotterK: number) => {
    const rule = new RisingWithoutPower();
    const at = (s: number) => 20 + kPerS * s;
    return Array.from({ length: 120 }, (_, s) => {
      const trace = { seconds: s, meanTemperature: () => at(s), greatestPower: () => 0, meanPower: () => 0 };
      return rule.check(situation(trace, { setpointC: 0, neighboursHotterK }));
    }).includes(true);
  };

  test('is faster than a hotter neighbour warms a zone through a short brass barrel', () => {
    expect(reported(0.4, 0)).toBe(true);
    expect(reported(0.4, 100)).toBe(false);
    expect(reported(0.7, 100)).toBe(true);
    expect(reported(0.02, 0)).toBe(false);
  });
});

describe('drifting', () => {
  const drifting = () => new Watched(new Drifting());

  test('is four minutes beyond the band on one side after the set-point was held', () => {
    for (const offK of [-5.1, 5.1]) {
      const watched = drifting();
      watched.off(0, 60);
      expect([watched.off(offK, 240), watched.off(offK)]).toEqual([false, true]);
    }
    for (const offK of [-5, 5]) {
      const edge = drifting();
      edge.off(0, 60);
      expect(edge.off(offK, 600)).toBe(false);
    }
    // The time within the band is not time away, however long it lasts.
    const long = drifting();
    long.off(0, 600);
    expect([long.off(6, 240), long.off(6)]).toEqual([false, true]);
    // Another side starts the time again.
    const both = drifting();
    both.off(0, 60);
    both.off(6, 200);
    expect([both.off(-6, 240), both.off(-6)]).toEqual([false, true]);
  });

  test('ends after half a minute within the band', () => {
    const watched = drifting();
    watched.off(0, 60);
    watched.off(-6, 300);
    expect([watched.off(0, 29), watched.off(-6), watched.off(0, 29), watched.off(0)]).toEqual([
      true,
      true,
      true,
      false,
    ]);
  });

  test('is not one that comes back, by more than half a kelvin a minute', () => {
    const returning = (kPerS: number) => {
      const watched = drifting();
      watched.off(0, 60);
      for (let s = 0; s < 400; s++) if (watched.off(-20 + kPerS * s)) return true;
      return false;
    };
    expect(returning(0.55 / 60)).toBe(false);
    expect(returning(0.45 / 60)).toBe(true);
    const exactly = drifting();
    exactly.off(0, 60);
    exactly.off(8.5, 200);
    expect(exactly.off(8, 41)).toBe(true);
    // A slow zone is compared with what it was longer ago, at most as long as its trace is.
    const agosS: number[] = [];
    for (const slowness of [1, 2, 10]) {
      const meanTemperature = (agoS: number) => {
        if (agoS > 0) agosS.push(agoS);
        return SETPOINT_C + 8;
      };
      const rule = new Drifting();
      const steady = situation({ meanTemperature, greatestPower: () => 0 }, { slowness, setpointSteadyS: 6000 });
      for (let s = 0; s < 240 * slowness; s++) rule.check(steady);
    }
    expect(agosS).toEqual([60, 120, TRACE_S - 5]);
  });

  test('starts from nothing after a reset', () => {
    const held = drifting();
    held.off(0, 60);
    held.off(6, 300);
    held.rule.reset();
    expect(held.off(6, 600, { held: false })).toBe(false);
    const unheated = drifting();
    unheated.power = 0;
    unheated.off(6, 239, { held: false });
    unheated.rule.reset();
    expect([unheated.off(6, 239, { held: false }), unheated.off(6, 1, { held: false })]).toEqual([false, true]);
  });

  test('counts from exactly ten minutes after a change of set-point or a hot start, twenty in a zone half as fast', () => {
    const drifts = (more: Partial<ZoneSituation>) => {
      const watched = drifting();
      watched.off(0, 400, more);
      return watched.off(-8, 500, more);
    };
    expect([drifts({ setpointSteadyS: 600 }), drifts({ hotStartAgoS: 600 })]).toEqual([true, true]);
    expect([1199, 1200].map((setpointSteadyS) => drifts({ setpointSteadyS, slowness: 2 }))).toEqual([false, true]);
    expect([1199, 1200].map((hotStartAgoS) => drifts({ hotStartAgoS, slowness: 2 }))).toEqual([false, true]);
  });

  test.each<[string, Partial<ZoneSituation>]>([
    ['the set-point was never held', { held: false }],
    ['the set-point changed ten minutes ago', { setpointSteadyS: 599 }],
    ['a slow zone had its set-point changed twenty minutes ago', { setpointSteadyS: 1199, slowness: 2 }],
    ['the watch started ten minutes ago with a hot line', { hotStartAgoS: 599 }],
    ['the zone is off', { setpointC: 0 }],
    ['no set-point is sent', { setpointC: Number.NaN }],
  ])('is nothing while %s', (_, more) => {
    const watched = drifting();
    watched.off(0, 60, more);
    expect(watched.off(-8, 700, more)).toBe(false);
  });

  test('is four minutes above the band without power, even if the set-point was never held', () => {
    const above = (power: number, offK: number, more: Partial<ZoneSituation> = {}) => {
      const watched = drifting();
      watched.power = power;
      return [watched.off(offK, 239, { held: false, ...more }), watched.off(offK, 1, { held: false, ...more })];
    };
    expect(above(0.02, 5.1)).toEqual([false, true]);
    expect(above(0.03, 5.1)).toEqual([false, false]);
    expect(above(0, 5)).toEqual([false, false]);
    expect(above(0, -6)).toEqual([false, false]);
    expect(above(0, 6, { powerKnown: false })).toEqual([false, false]);
    expect(above(0, 6, { slowness: 2 })).toEqual([false, false]);
    // A neighbour a kelvin hotter may be what keeps it hot.
    expect(above(0, 6, { neighboursHotterK: 0.9 })).toEqual([false, true]);
    expect(above(0, 6, { neighboursHotterK: 1 })).toEqual([false, false]);
    // Since the last change of the set-point, however long that takes to settle.
    expect(above(0, 6, { setpointSteadyS: 239 })).toEqual([false, false]);
    expect(above(0, 6, { setpointSteadyS: 240 })).toEqual([false, true]);
  });

  test('is not one that cools without power, by a kelvin in four minutes or more', () => {
    const cools = (byK: number) => {
      const watched = drifting();
      watched.power = 0;
      watched.off(20, 120, { held: false });
      return [watched.off(20 - byK, 120, { held: false }), watched.off(20 - byK, 119, { held: false })];
    };
    expect(cools(0.75)).toEqual([true, true]);
    // Exactly a kelvin colder starts the four minutes again.
    expect(cools(1)).toEqual([false, false]);
    // So does power in between, and time within the band without power does not count.
    for (const [offK, power] of [
      [6, 0.5],
      [0, 0],
    ] as const) {
      const watched = drifting();
      watched.off(6, 200, { held: false });
      watched.power = power;
      watched.off(offK, 300, { held: false });
      watched.power = 0;
      expect([watched.off(6, 239, { held: false }), watched.off(6, 1, { held: false })]).toEqual([false, true]);
    }
  });

  test('takes a slow zone for settled once it was within the band for long, and waits longer', () => {
    const slow = { slowness: 2 };
    const settled = drifting();
    settled.off(0, 400, slow);
    expect([settled.off(-8, 480, slow), settled.off(-8, 1, slow)]).toEqual([false, true]);
    const crossing = drifting();
    crossing.off(0, 399, slow);
    expect(crossing.off(-8, 900, slow)).toBe(false);
  });
});

describe('the ends of a sensor', () => {
  const limits = { absoluteLimitC: 300, atHeatWithinC: 5 };
  type Look = { rawC?: number; faultBits?: number; lastValueMs?: number; everValue?: boolean };

  /** What is said once a second, with a value in each reading unless stated otherwise. */
  function said(looks: readonly Look[], wanted = true, absoluteLimitC = 300) {
    const ends = new SensorEnds();
    return looks.map((look, s) => {
      const trace = { rawC: 200, faultBits: 0, lastValueMs: s * 1000, everValue: true, ...look } as TraceView;
      return ends.check(trace, { ...limits, absoluteLimitC }, wanted, s * 1000);
    });
  }
  const twice = (look: Look, ...more: [boolean?, number?]) => said([look, look], ...more)[1];

  test('are recognised by the fault bits of the firmware, in two ticks', () => {
    expect(said([{}, { faultBits: SENSOR_FAULT.openCircuit }, {}, {}])).toEqual([null, null, null, null]);
    expect(twice({ faultBits: SENSOR_FAULT.openCircuit })).toBe('sensorOpen');
    expect(twice({ faultBits: SENSOR_FAULT.shortToGround })).toBe('sensorShort');
    expect(twice({ faultBits: SENSOR_FAULT.shortToSupply })).toBe('sensorShort');
    expect(twice({ faultBits: 8 })).toBeNull();
  });

  test('are recognised by a reading at either end of the scale', () => {
    expect([twice({ rawC: -20 }), twice({ rawC: -20.1 })]).toEqual([null, 'sensorOpen']);
    expect([twice({ rawC: 450 }), twice({ rawC: 450.1 })]).toEqual([null, 'sensorShort']);
    // A hot line may be hotter than that.
    expect([twice({ rawC: 470 }, true, 420), twice({ rawC: 470.1 }, true, 420)]).toEqual([null, 'sensorShort']);
    // Without a value in between, the last finding stays.
    expect(said([{ rawC: -50 }, { rawC: Number.NaN }, { rawC: Number.NaN }])).toEqual([
      null,
      'sensorOpen',
      'sensorOpen',
    ]);
  });

  test('are recognised by a value that is missing for more than five seconds, where one is expected', () => {
    const seconds = (count: number, look: Look, wanted = true) =>
      said(Array(count).fill(look), wanted).lastIndexOf(null);
    // The sixth second is the first to be too long, and the seventh confirms it.
    expect(seconds(12, { lastValueMs: 0 })).toBe(6);
    expect(seconds(12, { lastValueMs: 0 }, false)).toBe(6);
    const never = { lastValueMs: Number.NaN, everValue: false, rawC: Number.NaN };
    expect(seconds(12, never)).toBe(6);
    expect(seconds(12, never, false)).toBe(11);
  });

  test('are recognised by a drop to nothing from hot, until the reading is a temperature again', () => {
    const dropped = (hotC: number, gapS: number, lowC = 0) =>
      said([{ rawC: hotC }, ...Array(gapS).fill({ rawC: 30 }), ...Array(4).fill({ rawC: lowC })]).at(-1);
    expect(dropped(61, 0)).toBe('sensorOpen');
    expect(dropped(60, 0)).toBeNull();
    expect(dropped(61, 1)).toBe('sensorOpen');
    expect(dropped(61, 2)).toBeNull();
    expect([dropped(61, 0, 4.9), dropped(61, 0, 5)]).toEqual(['sensorOpen', null]);
    expect(said([{}, { rawC: 0 }, { rawC: 0 }, { rawC: 22 }, { rawC: 22 }, { rawC: 0 }, { rawC: 0 }])).toEqual([
      null,
      null,
      'sensorOpen',
      'sensorOpen',
      null,
      null,
      null,
    ]);
  });
});

describe('heat and screw together', () => {
  const zone = (temperatureC: number | null, setpointC: number | null = SETPOINT_C, number = 1) =>
    ({ zone: number, temperatureC, setpointC }) as ZoneStatus;
  /** How long it has been hot and still after a second of this. */
  const standsS = (zones: readonly ZoneStatus[], screwRpm: number, strandMmPerS: number) => {
    const standing = new StandingHot();
    standing.step(0, zones, screwRpm, strandMmPerS);
    return standing.step(1000, zones, screwRpm, strandMmPerS).hotStandingS;
  };

  test('count as still by screw and strand, whichever is sent', () => {
    const hot = [zone(SETPOINT_C)];
    expect([standsS(hot, 0.5, 0), standsS(hot, 0.6, 0)]).toEqual([1, 0]);
    expect([standsS(hot, Number.NaN, 0.3), standsS(hot, Number.NaN, 0.4)]).toEqual([1, 0]);
    expect([standsS(hot, 0, Number.NaN), standsS(hot, 0, 5)]).toEqual([1, 0]);
    // Where neither is sent, no one knows.
    expect(standsS(hot, Number.NaN, Number.NaN)).toBe(0);
  });

  test('count as hot above the temperature at which material melts, by the hottest zone that is on', () => {
    expect([standsS([zone(150)], 0, 0), standsS([zone(151)], 0, 0)]).toEqual([0, 1]);
    expect(standsS([zone(200, 0)], 0, 0)).toBe(0);
    expect(standsS([zone(null)], 0, 0)).toBe(0);
    const hottest = (...zones: ZoneStatus[]) => new StandingHot().step(0, zones, 0, 0).hottestC;
    expect(hottest(zone(180), zone(210), zone(190), zone(250, 0), zone(null))).toBe(210);
    expect(hottest(zone(180, null))).toBe(180);
    // No zone is hot where none sends a temperature.
    expect(standsS([zone(null), zone(210, 0)], 0, 0)).toBe(0);
    expect(hottest()).toBeNull();
  });

  test('name the first zone that is more than 25 K too cold for a turning screw', () => {
    const cold = (screwRpm: number, ...zones: ZoneStatus[]) =>
      new StandingHot().step(0, zones, screwRpm, 40).coldForScrew?.zone;
    expect(cold(12, zone(199), zone(174.9, 200, 2), zone(100, 200, 3))).toBe(2);
    expect(cold(12, zone(175))).toBeUndefined();
    expect(cold(12, zone(20, 0), zone(20, null), zone(null))).toBeUndefined();
    // Even in a workshop in hard frost, a zone that is off is not too cold.
    expect(cold(12, zone(-30, 0), zone(-30, null))).toBeUndefined();
    expect([cold(0.5, zone(20)), cold(0.6, zone(20))]).toEqual([undefined, 1]);
  });

  test('change only if there is something new, so that what depends on them need not be derived again', () => {
    const standing = new StandingHot();
    const warm = [zone(140, 150), zone(20, 200, 2)];
    const first = standing.step(0, warm, 0, 0);
    expect(standing.step(1000, warm, 0, 0)).toBe(first);
    expect(standing.step(2000, [...warm], 0, 0)).toBe(first);
    const turning = standing.step(3000, warm, 12, 40);
    expect(turning).toEqual({ hotStandingS: 0, hottestC: 140, coldForScrew: warm[1] });
    expect(standing.step(4000, warm, 12, 40)).toBe(turning);
    expect(standing.step(5000, warm, 0, 0).coldForScrew).toBeNull();
    expect(standing.step(6000, [zone(141)], 0, 0).hottestC).toBe(141);
  });

  test('are nothing before the first reading', () => {
    expect(new StandingHot().state).toEqual({ hotStandingS: 0, hottestC: null, coldForScrew: null });
  });

  test('never count backwards if the clock is set back', () => {
    const standing = new StandingHot();
    standing.step(10_000, [zone(SETPOINT_C)], 0, 0);
    expect(standing.step(5000, [zone(SETPOINT_C)], 0, 0).hotStandingS).toBe(0);
  });
});
