import { describe, expect, test } from 'vitest';
import { greatestHoldingPower } from '../../server/heat/healthy-zone.ts';
import { LaggedPower } from '../../server/heat/lagged-power.ts';
import { LearntZone } from '../../server/heat/learnt-zone.ts';
import { isSlowerThanSlowest, riseBreaksOff, steadyPowerS } from '../../server/heat/steady-rise.ts';
import { ZoneTrace } from '../../server/heat/zone-trace.ts';

/** A slow zone: a heater that takes its time, a barrel, a sensor; common practice, no source. */
const SLOW = { rateKPerS: 0.2, heaterLagS: 40, sensorLagS: 15, steadyPower: 0.5, couplingPerS: 1 / 300 };
/** As slow as the slowest: with all its lags, no zone of a bench extruder is slower. */
const SLOWEST = { rateKPerS: 0.12, heaterLagS: 60, sensorLagS: 30, steadyPower: 0.55, couplingPerS: 1 / 900 };

interface Moment {
  readonly power?: number;
  /** Share of the heat that the heater gives. */
  readonly works?: number;
  /** Share of the excess over the room that the sensor feels. */
  readonly feels?: number;
  /** Heat that is taken away, as a share of full power. */
  readonly load?: number;
  /** Temperature of its one neighbour, °C; else it is as hot as the zone. */
  readonly neighbourC?: number;
}

/** The zone second by second from its room's 20 °C; `check` gets the trace after each. */
function heatUp(
  zone: typeof SLOW,
  seconds: number,
  at: (second: number) => Moment,
  check: (trace: ZoneTrace, second: number) => void,
  fromC = 20,
): void {
  const trace = new ZoneTrace();
  let heat = 0;
  let barrelC = fromC;
  let sensorC = fromC;
  for (let s = 1; s <= seconds; s++) {
    const { power = 1, works = 1, feels = 1, load = 0, neighbourC } = at(s);
    heat += (power * works - heat) / zone.heaterLagS;
    const hotterK = neighbourC === undefined ? 0 : neighbourC - barrelC;
    const loss = (zone.steadyPower * (barrelC - 20)) / 180;
    barrelC += zone.rateKPerS * (heat - load - loss) + zone.couplingPerS * hotterK;
    sensorC += (20 + feels * (barrelC - 20) - sensorC) / zone.sensorLagS;
    trace.add(s * 1000, sensorC, 200, power, -1);
    trace.closeTick();
    trace.closeSecond(1, neighbourC === undefined ? 0 : neighbourC - sensorC);
    check(trace, s);
  }
}

/** The first second at which the rise breaks off; null = it does not. */
function breakS(zone: typeof SLOW, seconds: number, at: (second: number) => Moment): number | null {
  const learnt = new LearntZone();
  let first: number | null = null;
  heatUp(zone, seconds, at, (trace, s) => {
    if (first === null && riseBreaksOff({ trace, learnt }, steadyPowerS(trace))) first = s;
  });
  return first;
}

describe('how long the power has been steady', () => {
  const steadyAt = (seconds: number, at: (second: number) => Moment, fromC = 20) => {
    let last = Number.NaN;
    heatUp(SLOW, seconds, at, (trace) => (last = steadyPowerS(trace)), fromC);
    return last;
  };

  test('counts from when a cold zone is switched on', () => {
    expect(steadyAt(100, (s) => ({ power: s <= 30 ? 0 : 1 }))).toBe(70);
    expect(steadyAt(100, (s) => ({ power: s <= 30 ? 0 : 0.98 + 0.02 * (s % 2) }))).toBe(70);
  });

  test('does not count too little power to heat up', () => {
    expect(steadyAt(100, () => ({ power: 0.2 }))).toBe(0);
  });

  test('leaves out the minute in which heat stored before still shows', () => {
    expect(steadyAt(200, (s) => ({ power: s === 100 ? 0 : 1 }))).toBe(40);
    expect(steadyAt(100, () => ({}), 60)).toBe(100 - 3 - 60);
  });
});

describe('a rise under steady power', () => {
  test.each([
    ['alone', () => ({})],
    ['with a draught', (s: number) => ({ load: s > 120 ? 0.05 : 0 })],
    ['beside a zone that stops at its set-point', (s: number) => ({ neighbourC: Math.min(120, 20 + 0.25 * s) })],
    ['beside a zone that cools', (s: number) => ({ neighbourC: Math.max(20, 20 + 0.3 * Math.min(s, 600 - s)) })],
    ['beside a zone that stays cold', () => ({ neighbourC: 20 })],
  ])('does not break off: %s', (_, at) => {
    expect(breakS(SLOW, 1500, at)).toBeNull();
    expect(breakS(SLOWEST, 1500, at)).toBeNull();
  });

  test('breaks off once the heater is lost, also between neighbours that keep the zone rising', () => {
    expect(breakS(SLOW, 500, (s) => ({ works: s > 300 ? 0 : 1 }))).toBeLessThan(345);
    const coupled = breakS(SLOW, 500, (s) => ({ works: s > 300 ? 0 : 1, neighbourC: 20 + 0.22 * s }));
    expect(coupled).toBeGreaterThan(300);
    expect(coupled).toBeLessThan(400);
  });

  test('breaks off as the sensor slips out while the zone is hardly warm', () => {
    const slipped = breakS(SLOW, 200, (s) => ({ feels: s > 40 ? 0.4 : 1 }));
    expect(slipped).toBeGreaterThan(40);
    expect(slipped).toBeLessThan(65);
  });

  test('does not break off where full power is just enough and the noise wanders', () => {
    const trace = new ZoneTrace();
    const learnt = new LearntZone();
    for (let s = 1; s <= 200; s++) {
      const wandersK = s <= 100 ? 0 : s <= 120 ? 0.035 * (s - 100) : Math.max(0, 0.7 - 0.025 * (s - 120));
      trace.add(s * 1000, 218 + wandersK, 233, 1, -1);
      trace.closeTick();
      trace.closeSecond(1, 0);
      expect(riseBreaksOff({ trace, learnt }, steadyPowerS(trace))).toBe(false);
    }
  });

  test('does not break off when the power falls', () => {
    expect(breakS(SLOW, 500, (s) => ({ power: s > 300 ? 0.3 : 1 }))).toBeNull();
  });
});

describe('the slowest healthy zone', () => {
  const tooSlowS = (zone: typeof SLOW, at: (second: number) => Moment) => {
    const lagged = new LaggedPower();
    let first: number | null = null;
    heatUp(zone, 600, at, (trace, s) => {
      const taken = greatestHoldingPower(trace.temperatureC) + 0.05;
      if (first === null && isSlowerThanSlowest(trace, steadyPowerS(trace), taken, lagged)) first = s;
    });
    return first;
  };
  const beside = (s: number) => ({ power: s > 20 ? 1 : 0, neighbourC: 20 + Math.max(0, 0.25 * (s - 60)) });

  test('is not slower than itself, alone or with neighbours', () => {
    expect(tooSlowS(SLOWEST, (s) => ({ power: s > 20 ? 1 : 0 }))).toBeNull();
    expect(tooSlowS(SLOWEST, beside)).toBeNull();
    expect(tooSlowS({ ...SLOWEST, couplingPerS: 1 / 300 }, (s) => ({ ...beside(s), neighbourC: 20 }))).toBeNull();
  });

  test('is faster than a zone without heat, also where a neighbour warms that', () => {
    expect(tooSlowS(SLOW, (s) => ({ ...beside(s), works: 0, neighbourC: 20 }))).toBeLessThan(90);
    expect(tooSlowS(SLOW, (s) => ({ ...beside(s), works: 0 }))).toBeLessThan(120);
  });

  test('is faster than a zone whose sensor shows a third', () => {
    expect(tooSlowS(SLOWEST, () => ({ feels: 0.33 }))).not.toBeNull();
  });
});
