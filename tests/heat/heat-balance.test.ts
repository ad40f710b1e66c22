import { expect, test } from 'vitest';
import { FeltPower } from '../../server/heat/felt-power.ts';
import { type HeatBalance, heatBalance, POSSIBLE_RELIEF, possibleLoad } from '../../server/heat/heat-balance.ts';
import { LearntZone } from '../../server/heat/learnt-zone.ts';
import { UnexplainedHeat } from '../../server/heat/unexplained-heat.ts';
import type { HeatFault } from '../../server/heat/zone-status.ts';
import { ZoneTrace } from '../../server/heat/zone-trace.ts';
import { MODEL, type Moment, playZone } from './first-order-zone.ts';

/** The balances of a watch that begins at second 0. */
function balances(seconds: number, startC: number, heldBefore: number, at: (second: number) => Moment): HeatBalance[] {
  const trace = new ZoneTrace();
  const felt = new FeltPower();
  const found: HeatBalance[] = [];
  let heldAtMost = 1;
  playZone(seconds, startC, heldBefore, at, (second, temperatureC, { told }) => {
    trace.add(second * 1000, temperatureC, 200, told, -1);
    if (second % 1 > 0.05) return;
    trace.closeTick();
    trace.closeSecond(1, 0);
    const balance = heatBalance(trace, MODEL, felt, heldAtMost);
    heldAtMost = balance.heldAtMost;
    found.push(balance);
  });
  return found;
}

const on = (second: number, from: number) => (second > from ? 1 : 0);

test('a heater that stays cold is known before its lag has passed twice since the watch began', () => {
  const found = balances(64, 20, 0, (s) => ({ told: on(s, 5), given: 0 }));
  const at = found.findIndex(({ lacking }) => lacking > possibleLoad(20));
  expect(at).toBeGreaterThan(5);
  expect(at).toBeLessThan(35);
});

test('a switch stuck on in a cold zone is known before its lag has passed twice since the watch began', () => {
  const found = balances(64, 20, 0, (s) => ({ told: 0, given: on(s, 25) }));
  const at = found.findIndex(({ excess }) => excess > POSSIBLE_RELIEF);
  expect(at).toBeGreaterThan(25);
  expect(at).toBeLessThan(50);
  expect(found[at - 1]!.heldAtMost).toBeLessThan(0.3);
});

test('what the heater held when the watch began is no heat from nowhere, and none that is missing', () => {
  for (const heldBefore of [0, 0.5, 1])
    for (const startC of [60, 150]) {
      const found = balances(150, startC, heldBefore, () => ({ told: 0, given: 0 }));
      for (const { excess, lacking, heldAtMost } of found) {
        expect(excess).toBeLessThanOrEqual(POSSIBLE_RELIEF);
        expect(lacking).toBeLessThanOrEqual(possibleLoad(startC));
        expect(heldAtMost).toBeGreaterThanOrEqual(heldBefore);
      }
    }
});

/** A zone of the model, to be heated to 200 °C. */
function zoneOf(trace: ZoneTrace) {
  return {
    trace,
    learnt: new LearntZone(),
    model: MODEL,
    setpointC: 200,
    setpointSteadyS: 300,
    powerKnown: true,
    held: false,
    withinC: 5,
    neighboursHotterK: 0,
    neighboursColderK: 0,
    armedHotS: Number.POSITIVE_INFINITY,
  };
}

test('a cold zone that loses more than its heater gave has no dead heater; one that gains nothing from full power has', () => {
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
      if (s > 60) found ??= balance.judge(zone, MODEL, s * 1000);
    }
    return found;
  };
  expect(faultAfter(-0.6, 0.06)).toBeNull();
  expect(faultAfter(0, 1)).toBe('noRise');
});

test('a heater that had served and stops is lost, long before the rise has ended; one that never served is weak', () => {
  const seen = (given: (second: number) => number) => {
    const zone = zoneOf(new ZoneTrace());
    const balance = new UnexplainedHeat();
    let found: { fault: HeatFault; atS: number } | null = null;
    playZone(
      120,
      20,
      0,
      (s) => ({ told: 1, given: given(s) }),
      (second, temperatureC) => {
        zone.trace.add(second * 1000, temperatureC, 200, 1, -1);
        if (second % 1 > 0.05) return;
        zone.trace.closeTick();
        zone.trace.closeSecond(1, 0);
        const fault = balance.judge(zone, MODEL, second * 1000);
        if (fault !== null) found ??= { fault, atS: second };
      },
    );
    return found as { fault: HeatFault; atS: number } | null;
  };
  const lost = seen((s) => (s < 80 ? 1 : 0));
  expect(lost?.fault).toBe('noRise');
  expect(lost?.atS).toBeGreaterThan(80 + MODEL.deadTimeS);
  // What the heater's mass still gives lets the reading rise at a quarter of its rate until some 45 s after that.
  expect(lost?.atS).toBeLessThan(80 + MODEL.deadTimeS + 25);
  expect(seen(() => 0.4)?.fault).toBe('heaterWeak');
});

test('a coarse sensor that goes up one step does not make a zone rise that does not', () => {
  const trace = new ZoneTrace();
  const model = { ...MODEL, rateKPerS: 0.33, lossPerS: 0.0004, lagS: 4, secondLagS: 1, fitK: 0.3 };
  const felt = new FeltPower();
  for (let second = 1; second <= 63; second++) {
    trace.add(second * 1000, second <= 60 ? 122 : 123, 200, 1, -1);
    trace.closeTick();
    trace.closeSecond(1, 0);
    const { lacking, slopeKPerS, leastSlopeKPerS } = heatBalance(trace, model, felt, 1);
    if (second <= 50) continue;
    expect(lacking).toBeGreaterThan(0.5);
    expect(slopeKPerS).toBeLessThan(0.25 * leastSlopeKPerS);
  }
});
