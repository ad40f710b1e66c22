import { expect, test } from 'vitest';
import { Frozen } from '../../server/heat/frozen.ts';
import { LaggedPower } from '../../server/heat/lagged-power.ts';
import { LongStillness } from '../../server/heat/long-stillness.ts';
import { Stillness } from '../../server/heat/stillness.ts';
import { SweptNoise } from '../../server/heat/swept-noise.ts';
import { isUnresponsive } from '../../server/heat/unresponsive-reading.ts';
import { ZoneTrace } from '../../server/heat/zone-trace.ts';
import { normal, seeded } from '../chance.ts';
import { MODEL } from './first-order-zone.ts';
import { zoneSituation } from './zone-situation.ts';

/** Seconds of a reading that stays at 200 °C, from the start of the trace. */
function stayStill(trace: ZoneTrace, seconds: number, power: (second: number) => number, each?: (s: number) => void) {
  for (let s = 1; s <= seconds; s++) {
    for (const part of [0.2, 0.6]) trace.add((s + part) * 1000, 200, 200, power(s), -1);
    trace.closeTick();
    trace.closeSecond(1, 0);
    each?.(s);
  }
}

test('allows for heat that the heater stored before the watch started, and calls the reading unresponsive once it must be gone', () => {
  const trace = new ZoneTrace();
  const lagged = new LaggedPower();
  const unresponsiveAt: number[] = [];
  stayStill(
    trace,
    110,
    () => 0,
    (s) => {
      if (isUnresponsive(trace, MODEL, lagged, s)) unresponsiveAt.push(s);
    },
  );
  // By the equations of the model a heater that held full power keeps 200 °C from falling by more than 2 K for 55 s.
  expect(unresponsiveAt[0]).toBeGreaterThan(55);
  expect(unresponsiveAt).toContain(110);
});

/** A switch that is on for `on` of every ten readings, ten readings a second. */
function switched(trace: ZoneTrace, seconds: number, on: (second: number) => number, each: (second: number) => void) {
  for (let s = 1; s <= seconds; s++) {
    for (let i = 0; i < 10; i++) trace.add(s * 1000 + i * 100, 200, 200, i < on(s) ? 1 : 0, -1);
    trace.closeTick();
    trace.closeSecond(1, 0);
    each(s);
  }
}

test('does not call a reading unresponsive when a switched power, known in tenths, seems to change by a tenth', () => {
  const trace = new ZoneTrace();
  const lagged = new LaggedPower();
  const long = new LongStillness();
  const model = { ...MODEL, lagS: 5, secondLagS: 2 };
  const found: number[] = [];
  switched(
    trace,
    160,
    (s) => (s < 100 ? 4 : 5),
    (s) => {
      if (isUnresponsive(trace, model, lagged, s) || long.mustHaveMoved(trace, model)) found.push(s);
    },
  );
  expect(trace.powerStep).toBeCloseTo(0.1, 6);
  expect(found).toEqual([]);
});

test('calls a reading unresponsive to the same change of a power that is sent as a share', () => {
  const trace = new ZoneTrace();
  const lagged = new LaggedPower();
  const model = { ...MODEL, lagS: 5, secondLagS: 2 };
  const found: number[] = [];
  stayStill(
    trace,
    160,
    (s) => (s < 100 ? 0.4 : 0.5),
    (s) => {
      if (isUnresponsive(trace, model, lagged, s)) found.push(s);
    },
  );
  expect(trace.powerStep).toBe(0);
  expect(found[0]).toBeGreaterThan(105);
  expect(found[0]).toBeLessThan(160);
});

test('lets a zone stay still that needs more power because its neighbours cool', () => {
  const model = { ...MODEL, lagS: 5, secondLagS: 2, exchangePerS: 0.001 };
  // Neighbours that cool by 0.2 K/s take 0.0002 K/s more each second, so staying needs that much more power.
  for (const cools of [true, false]) {
    const trace = new ZoneTrace();
    const lagged = new LaggedPower();
    const long = new LongStillness();
    const found: number[] = [];
    for (let s = 1; s <= 240; s++) {
      for (const part of [0.2, 0.6]) trace.add((s + part) * 1000, 200, 200, 0.36 + 0.0002 * s, -1);
      trace.closeTick();
      trace.closeSecond(1, cools ? -0.2 * s : 0);
      if (isUnresponsive(trace, model, lagged, s) || long.mustHaveMoved(trace, model)) found.push(s);
    }
    if (cools) expect(found).toEqual([]);
    else expect(found.length).toBeGreaterThan(0);
  }
});

/** First second at which a sensor of whole kelvins that stays still without power is called frozen; null = not in ten minutes. */
function coarseFrozenAfterS(temperatureC: number, power: number, neighboursHotterK: number): number | null {
  const trace = new ZoneTrace();
  const frozen = new Frozen();
  const situation = zoneSituation(trace, { setpointC: 0, neighboursHotterK });
  for (let s = 1; s <= 900; s++) {
    // Its steps are known from the time before: it came down by them.
    const celsius = s <= 300 ? temperatureC + Math.ceil((300 - s) / 10) : temperatureC;
    for (const part of [0.2, 0.6]) trace.add((s + part) * 1000, celsius, 0, power, -1);
    trace.closeTick();
    trace.closeSecond(1, 0);
    if (s > 300 && frozen.check(situation, (s + 1) * 1000)) return s - 300;
  }
  return null;
}

test('calls a coarse sensor frozen that stays hot without power for longer than a zone could', () => {
  // A zone cools by at least 0.045 K/s at 200 °C (`LEAST_COOLING_K_PER_S`), less where it is less hot; three steps must have passed.
  expect(coarseFrozenAfterS(200, 0, 0)).toBeGreaterThanOrEqual(120);
  expect(coarseFrozenAfterS(200, 0, 0)).toBeLessThan(130);
  const atHalf = coarseFrozenAfterS(110, 0, 0);
  expect(atHalf).toBeGreaterThanOrEqual(120);
  expect(atHalf).toBeLessThan(150);
});

test.each([
  ['some power keeps it warm', 200, 0.02, 0],
  ['hotter neighbours keep it warm', 200, 0, 10],
  ['it is nearly cold', 45, 0, 0],
])('does not call a coarse sensor frozen where %s', (_why, temperatureC, power, neighboursHotterK) => {
  expect(coarseFrozenAfterS(temperatureC, power, neighboursHotterK)).toBeNull();
});

test('does not call a fine sensor frozen when the power has only just changed', () => {
  const trace = new ZoneTrace();
  const frozen = new Frozen();
  const situation = zoneSituation(trace, { setpointSteadyS: 1000 });
  const found: number[] = [];
  for (let s = 1; s <= 160; s++) {
    const temperatureC = 200 + 0.01 * Math.min(s, 4);
    for (const part of [0.2, 0.6]) trace.add((s + part) * 1000, temperatureC, 200, s < 100 ? 0.4 : 1, -1);
    trace.closeTick();
    trace.closeSecond(1, 0);
    if (frozen.check(situation, (s + 1) * 1000)) found.push(s);
  }
  // A change of power takes at most 22 s to show (`healthy-zone.ts`).
  expect(found[0]).toBeGreaterThan(122);
});

test('does not take swings of a zone by a few hundredths of a kelvin for sensor noise', () => {
  const stillness = new Stillness();
  let timeMs = 0;
  const report = (value: number) => {
    timeMs += 100;
    stillness.add(Math.round(value * 100) / 100, timeMs);
  };
  for (let i = 0; i < 3000; i++) report(150 + 0.01 * i);
  const swing = [0.02, -0.02, 0.02, 0.01, -0.02];
  for (let i = 0; i < 3000; i++) report(180 + (swing[Math.floor(i / 15) % swing.length] ?? 0));
  expect(stillness.noiseSteps).toBeGreaterThan(1.5);
  expect(stillness.neverStill).toBe(false);
});

test('does not take a slow switching cycle for a change of power, from the first second on', () => {
  for (const phase of [0, 2, 4, 6, 8]) {
    const trace = new ZoneTrace();
    const long = new LongStillness();
    const moved: number[] = [];
    stayStill(
      trace,
      300,
      (s) => ((s + phase) % 10 < 4 ? 1 : 0),
      (s) => {
        if (long.mustHaveMoved(trace, MODEL)) moved.push(s);
      },
    );
    expect(moved, `phase ${phase}`).toEqual([]);
  }
});

/** A sensor with steps of 0.5 K, 5 readings/s. */
const STEP_K = 0.5;
const READINGS_PER_S = 5;

/** Readings of a zone that heats by 0.1 K/s; the noise is given in steps. */
function heatUp(noiseSteps: number, seed: number, take: (value: number, timeMs: number) => void): void {
  const noise = normal(seeded(seed));
  for (let i = 0; i < 1500 * READINGS_PER_S; i++) {
    const trueC = 20 + (0.1 * i) / READINGS_PER_S;
    take(STEP_K * Math.round(trueC / STEP_K + noiseSteps * noise()), (i * 1000) / READINGS_PER_S);
  }
}

function sweptNoise(noiseSteps: number, seed: number): SweptNoise {
  const swept = new SweptNoise();
  let before = Number.NaN;
  let lastStep = 0;
  heatUp(noiseSteps, seed, (value, timeMs) => {
    const step = value - before;
    swept.add(value, timeMs, step * lastStep < 0, STEP_K);
    if (step !== 0) lastStep = Number.isNaN(step) ? 0 : step;
    before = value;
  });
  return swept;
}

test("measures a coarse sensor's noise during a heat-up, and never overestimates it", () => {
  for (let seed = 1; seed <= 20; seed++) {
    expect(sweptNoise(0, seed).steps).toBe(0);
    expect(sweptNoise(0.1, seed).steps).toBe(0);
    for (const noiseSteps of [0.35, 0.5, 0.7]) {
      const { steps } = sweptNoise(noiseSteps, seed);
      expect(steps).toBeGreaterThan(0.65 * noiseSteps);
      expect(steps).toBeLessThan(noiseSteps);
    }
  }
});

test('a million readings in the middle of a step never repeat as often as counts as not chance', () => {
  for (const noiseSteps of [0.35, 0.5]) {
    const noise = normal(seeded(7));
    let longest = 0;
    let before = Number.NaN;
    let same = 0;
    for (let i = 0; i < 1_000_000; i++) {
      const value = Math.round(noiseSteps * noise());
      same = value === before ? same + 1 : 0;
      longest = Math.max(longest, same);
      before = value;
    }
    const { noChanceReadings } = sweptNoise(noiseSteps, 3);
    expect(noChanceReadings).toBeGreaterThan(longest);
    expect(noChanceReadings).toBeLessThan(5 * longest);
  }
});

test('recognises within two minutes that a sensor with noise of a third of a step is frozen, with no false alarm', () => {
  const stillness = new Stillness();
  const noise = normal(seeded(11));
  let timeMs = 0;
  heatUp(0.35, 11, (value, atMs) => {
    stillness.add(value, atMs);
    timeMs = atMs;
  });
  const hold = (seconds: number, value: () => number, each: (heldS: number) => void) => {
    for (let i = 1; i <= seconds * READINGS_PER_S; i++) {
      timeMs += 1000 / READINGS_PER_S;
      stillness.add(value(), timeMs);
      each(i / READINGS_PER_S);
    }
  };
  hold(
    3600,
    () => 200 + STEP_K * Math.round(0.35 * noise()),
    (heldS) => {
      if (stillness.isNoChance) throw new Error(`false alarm after ${heldS} s`);
    },
  );
  let frozenAfterS = Number.NaN;
  hold(
    300,
    () => 200,
    (heldS) => {
      if (Number.isNaN(frozenAfterS) && stillness.isNoChance) frozenAfterS = heldS;
    },
  );
  expect(frozenAfterS).toBeLessThan(120);
});

test.each([
  ['it rose by a step in two minutes before', 1 / 440, 1, false],
  ['it was rising by 2 K a minute', 1 / 30, 1, true],
  ['the heater was not fully on before', 0, 0.6, true],
])(
  'at full power a coarse reading that stays still for 120 s is frozen or not: %s',
  (_, riseKPerS, powerBefore, found) => {
    const trace = new ZoneTrace();
    const frozen = new Frozen();
    let claims = 0;
    const stillFromS = 110;
    for (let s = 1; s <= stillFromS + 200; s++) {
      const risenK = Math.min(s, stillFromS) * riseKPerS;
      const power = s < stillFromS ? powerBefore : 1;
      for (const part of [0.2, 0.6]) trace.add((s + part) * 1000, 190 + Math.floor(risenK * 4) / 4, 200, power, -1);
      trace.closeTick();
      trace.closeSecond(1, 0);
      if (frozen.check(zoneSituation(trace), (s + 1) * 1000)) claims++;
    }
    expect(claims > 0).toBe(found);
  },
);

/** The seconds at which the reading of a zone that is heated to 200 °C is called frozen; its sensor has these steps and is read `everyS`. */
function frozenAt(
  temperatureC: (second: number) => number,
  stepK: number,
  seconds: number,
  { everyS = 0.5, power = 1, setpointC = 200 } = {},
): number[] {
  const zone = zoneSituation(new ZoneTrace(), { held: false, setpointC });
  const frozen = new Frozen();
  const found: number[] = [];
  for (let s = 0.5; s <= seconds; s += 0.5) {
    const readAtS = Math.floor(s / everyS) * everyS;
    zone.trace.add(s * 1000, Math.round(temperatureC(readAtS) / stepK) * stepK, setpointC, power, -1);
    if (s % 1 !== 0) continue;
    zone.trace.closeTick();
    zone.trace.closeSecond(1, 0);
    if (frozen.check(zone, s * 1000)) found.push(s);
  }
  return found;
}

const stopsAt60S = (kPerS: number) => (s: number) => 60 + kPerS * Math.min(s, 60);

test('calls a reading frozen that stops in full rise, once its sensor would have crossed a dozen steps', () => {
  expect(frozenAt(stopsAt60S(0.5), 0.1, 90)[0]).toBe(68);
  expect(frozenAt(stopsAt60S(0.5), 0.5, 90)[0]).toBeGreaterThan(70);
  expect(frozenAt(stopsAt60S(0.5), 0.5, 90)[0]).toBeLessThan(75);
  expect(frozenAt(stopsAt60S(0.2), 1, 140)).toEqual([]);
});

test('does not call a reading frozen that stops where its zone may stop, or that is refreshed rarely', () => {
  expect(frozenAt(stopsAt60S(0.5), 0.1, 90, { setpointC: 104 })).toEqual([]);
  expect(frozenAt(stopsAt60S(0.5), 0.1, 90, { setpointC: 106 })).not.toEqual([]);
  expect(frozenAt(stopsAt60S(0.5), 0.1, 90, { power: 0.3 })).toEqual([]);
  expect(frozenAt((s) => 60 + 0.5 * s, 0.1, 200, { everyS: 10 })).toEqual([]);
});

test('takes the peak of a zone whose heater failed for no frozen reading', () => {
  for (const kPerS of [0.2, 0.5, 1])
    for (const withinS of [10, 20, 40, 80])
      for (const stepK of [0.1, 0.25, 0.5, 1]) {
        const bendK = (s: number) => kPerS * (s - s ** 2 / (2 * withinS));
        const peaks = (s: number) => stopsAt60S(kPerS)(s) + bendK(Math.max(0, s - 60));
        expect(frozenAt(peaks, stepK, 160)).toEqual([]);
      }
});
