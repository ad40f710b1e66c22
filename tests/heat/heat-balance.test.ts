import { expect, test } from 'vitest';
import {
  type HeatBalance,
  heatBalance,
  POSSIBLE_RELIEF,
  POWER_DOUBT,
  possibleLoad,
} from '../../server/heat/heat-balance.ts';
import { LaggedPower } from '../../server/heat/lagged-power.ts';
import { UnexplainedHeat } from '../../server/heat/unexplained-heat.ts';
import type { HeatFault } from '../../server/heat/zone-status.ts';
import { ZoneTrace } from '../../server/heat/zone-trace.ts';
import { MODEL, type Moment, playZone } from './first-order-zone.ts';
import { zoneSituation } from './zone-situation.ts';

/** The balances of a watch that starts at second 0. */
function balances(
  seconds: number,
  startC: number,
  storedBefore: number,
  at: (second: number) => Moment,
): HeatBalance[] {
  const trace = new ZoneTrace();
  const lagged = new LaggedPower();
  const found: HeatBalance[] = [];
  let storedAtMost = 1;
  playZone(seconds, startC, storedBefore, at, (second, temperatureC, { sent }) => {
    trace.add(second * 1000, temperatureC, 200, sent, -1);
    if (second % 1 > 0.05) return;
    trace.closeTick();
    trace.closeSecond(1, 0);
    const balance = heatBalance(trace, MODEL, lagged, storedAtMost);
    storedAtMost = balance.storedAtMost;
    found.push(balance);
  });
  return found;
}

const on = (second: number, from: number) => (second > from ? 1 : 0);

test('recognises a heater that stays cold within two lags of the start of the watch', () => {
  const found = balances(64, 20, 0, (s) => ({ sent: on(s, 5), applied: 0 }));
  const at = found.findIndex(({ deficit }) => deficit > possibleLoad(20));
  expect(at).toBeGreaterThan(5);
  expect(at).toBeLessThan(35);
});

test('recognises a switch stuck on in a cold zone within two lags of the start of the watch', () => {
  const found = balances(64, 20, 0, (s) => ({ sent: 0, applied: on(s, 25) }));
  const at = found.findIndex(({ excess }) => excess > POSSIBLE_RELIEF);
  expect(at).toBeGreaterThan(25);
  expect(at).toBeLessThan(50);
  expect(found[at - 1]?.storedAtMost).toBeLessThan(0.3);
});

test('takes heat stored in the heater before the watch started neither for excess nor for missing heat', () => {
  for (const storedBefore of [0, 0.5, 1])
    for (const startC of [60, 150]) {
      const found = balances(150, startC, storedBefore, () => ({ sent: 0, applied: 0 }));
      for (const { excess, deficit, storedAtMost } of found) {
        expect(excess).toBeLessThanOrEqual(POSSIBLE_RELIEF);
        expect(deficit).toBeLessThanOrEqual(possibleLoad(startC));
        expect(storedAtMost).toBeGreaterThanOrEqual(storedBefore);
      }
    }
});

test('takes a rise that a sensor of whole kelvins hides for no missing heat, on top of load and model error', () => {
  const plant = { ...MODEL, rateKPerS: 0.15, lossPerS: 0.0001 };
  // Learnt too low by a twentieth of full power, at 178 °C.
  const learnt = { ...plant, lossPerS: plant.lossPerS - (0.05 * plant.rateKPerS) / 158 };
  const applied = (plant.lossPerS * 158) / plant.rateKPerS + 0.08;
  // Cold stock takes a fifth of full power at 200 °C, and the heater gives less than its power by as much as is allowed for.
  const sent = (applied + (0.2 * 158) / 180) / (1 - POWER_DOUBT);
  const trace = new ZoneTrace();
  const lagged = new LaggedPower();
  const deficits: number[] = [];
  const take = (second: number, temperatureC: number) => {
    // Its step shows in the heat-up.
    const readC = second < 30 ? 170 + Math.round(second / 4) : Math.round(temperatureC);
    trace.add(second * 1000, readC, 200, sent, -1);
    if (second % 1 > 0.05) return;
    trace.closeTick();
    trace.closeSecond(1, 0);
    if (temperatureC > 177.5 && temperatureC < 178.5) deficits.push(heatBalance(trace, learnt, lagged, 0).deficit);
  };
  playZone(150, 177, applied, () => ({ sent, applied }), take, plant);
  expect(deficits.length).toBeGreaterThan(75);
  expect(Math.max(...deficits)).toBeLessThanOrEqual(possibleLoad(178));
});

/** A zone with the model, to be heated to 200 °C. */
function zoneOf(trace: ZoneTrace) {
  return zoneSituation(trace, { model: MODEL, setpointSteadyS: 300, held: false });
}

test('calls a heater dead when a cold zone gains nothing from full power, not when it loses more than the heater gave', () => {
  const faultAfter = (slopeKPerS: number, power: number) => {
    const trace = new ZoneTrace();
    const balance = new UnexplainedHeat();
    const zone = zoneOf(trace);
    let found = null;
    for (let s = 1; s <= 96; s++) {
      for (const part of [0.2, 0.6])
        trace.add((s + part) * 1000, s < 60 ? 45 : 45 + slopeKPerS * (s - 60), 200, power, -1);
      trace.closeTick();
      trace.closeSecond(1, 0);
      if (s > 60) found ??= balance.check(zone, MODEL, s * 1000);
    }
    return found;
  };
  expect(faultAfter(-0.6, 0.06)).toBeNull();
  expect(faultAfter(0, 1)).toBe('noRise');
});

test('calls a heater lost that worked and then stops, before the rise has ended; one that never fully worked is weak', () => {
  const faultOf = (applied: (second: number) => number) => {
    const zone = zoneOf(new ZoneTrace());
    const balance = new UnexplainedHeat();
    let found: { fault: HeatFault; atS: number } | null = null;
    playZone(
      120,
      20,
      0,
      (s) => ({ sent: 1, applied: applied(s) }),
      (second, temperatureC) => {
        zone.trace.add(second * 1000, temperatureC, 200, 1, -1);
        if (second % 1 > 0.05) return;
        zone.trace.closeTick();
        zone.trace.closeSecond(1, 0);
        const fault = balance.check(zone, MODEL, second * 1000);
        if (fault !== null) found ??= { fault, atS: second };
      },
    );
    return found as { fault: HeatFault; atS: number } | null;
  };
  const lost = faultOf((s) => (s < 80 ? 1 : 0));
  expect(lost?.fault).toBe('noRise');
  expect(lost?.atS).toBeGreaterThan(80 + MODEL.deadTimeS);
  // The heater's mass keeps the reading rising at a quarter of its rate until about 45 s after that.
  expect(lost?.atS).toBeLessThan(80 + MODEL.deadTimeS + 25);
  expect(faultOf(() => 0.4)?.fault).toBe('heaterWeak');
});

test('does not take one step of a coarse sensor for a rise', () => {
  const trace = new ZoneTrace();
  const model = { ...MODEL, rateKPerS: 0.33, lossPerS: 0.0004, lagS: 4, secondLagS: 1, fitK: 0.3 };
  const lagged = new LaggedPower();
  for (let second = 1; second <= 63; second++) {
    trace.add(second * 1000, second <= 60 ? 122 : 123, 200, 1, -1);
    trace.closeTick();
    trace.closeSecond(1, 0);
    const { deficit, slopeKPerS, leastSlopeKPerS } = heatBalance(trace, model, lagged, 1);
    if (second <= 50) continue;
    expect(deficit).toBeGreaterThan(0.5);
    expect(slopeKPerS).toBeLessThan(0.25 * leastSlopeKPerS);
  }
});
