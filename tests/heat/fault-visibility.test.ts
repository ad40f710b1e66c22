import { describe, expect, test } from 'vitest';
import { type FaultVisibility, faultVisibility } from '../../server/heat/fault-visibility.ts';
import { UnexplainedHeat } from '../../server/heat/unexplained-heat.ts';
import { ZoneTrace } from '../../server/heat/zone-trace.ts';
import { MODEL, type Moment, playZone } from './first-order-zone.ts';
import { zoneSituation } from './zone-situation.ts';

const FAULT_S = 300;

/** Seconds from the fault until the balance reports one, on a zone that follows the model exactly. */
function foundAfterS(startC: number, stored: number, at: (second: number) => Moment, slip = 0): number | null {
  const trace = new ZoneTrace();
  const balance = new UnexplainedHeat();
  const zone = zoneSituation(trace, { model: MODEL, setpointC: 250, setpointSteadyS: 300 });
  let found: number | null = null;
  playZone(FAULT_S + 200, startC, stored, at, (second, trueC, moment) => {
    const slippedS = second - FAULT_S;
    const drop = slip > 0 && slippedS > 0 ? slip * (1 - Math.exp(-slippedS / (20 + MODEL.secondLagS))) : 0;
    trace.add(second * 1000, trueC - drop * (trueC - 20), 250, moment.sent, -1);
    if (second % 1 > 0.05) return;
    trace.closeTick();
    trace.closeSecond(1, 0);
    if (balance.check(zone, MODEL, second * 1000) !== null && second > FAULT_S) found ??= second - FAULT_S;
  });
  return found;
}

/** Power that holds 200 °C. */
const HOLDS = (MODEL.lossPerS * 180) / MODEL.rateKPerS;
const seen = (temperatureC: number): FaultVisibility => faultVisibility(MODEL, temperatureC, 0);

/** Reported in time, but not so much sooner that the promise is of little use. */
function expectKept(actualS: number | null, promisedS: number | null): void {
  expect(actualS).not.toBeNull();
  expect(promisedS).not.toBeNull();
  expect(actualS!).toBeLessThanOrEqual(promisedS!);
  expect(promisedS!).toBeLessThan(2.5 * actualS! + 3);
}

describe('a fault is reported within the time that the model promises', () => {
  test.each([
    ['a heater lost at full power', 'lostWhileHeatingS', 1, 0],
    ['a heater lost while holding', 'lostWhileHoldingS', HOLDS, 0],
    ['a switch stuck on', 'stuckWhileHoldingS', HOLDS, 1 / HOLDS],
  ] as const)('%s', (_, name, power, share) => {
    // At full power the zone settles 500 K above the room: it starts there, so its temperature stays the same.
    const startC = 20 + (MODEL.rateKPerS * power) / MODEL.lossPerS;
    const actualS = foundAfterS(startC, power, (s) => ({ sent: power, applied: s < FAULT_S ? power : share * power }));
    expectKept(actualS, faultVisibility(MODEL, startC, 0)[name]);
  });

  test('a sensor that slips out halfway', () => {
    const actualS = foundAfterS(200, HOLDS, () => ({ sent: HOLDS, applied: HOLDS }), 0.5);
    expectKept(actualS, seen(200).slippedS);
  });
});

test('half a heater lost while holding with little power cannot be distinguished from cold material', () => {
  expect(faultVisibility({ ...MODEL, lossPerS: 0.001 }, 200, 0).halfLostWhileHoldingS).toBeNull();
  expect(foundAfterS(200, 0.18, (s) => ({ sent: 0.18, applied: s < FAULT_S ? 0.18 : 0.09 }))).toBeNull();
});

test('a slow, noisy or badly fitting zone shows its faults later', () => {
  const usual = seen(200).lostWhileHeatingS ?? Number.NaN;
  expect(faultVisibility({ ...MODEL, lagS: 50, secondLagS: 20 }, 200, 0).lostWhileHeatingS).toBeGreaterThan(usual + 5);
  expect(faultVisibility(MODEL, 200, 0.5).stuckWhileHoldingS).toBeGreaterThan(
    (seen(200).stuckWhileHoldingS ?? Number.NaN) + 1,
  );
  expect(faultVisibility({ ...MODEL, fitK: 1.5 }, 200, 0).lostWhileHeatingS).toBeGreaterThan(usual + 1);
  expect(faultVisibility({ ...MODEL, deadTimeS: 15 }, 200, 0).lostWhileHeatingS).toBeCloseTo(usual + 10, 0);
});

test('a zone that its neighbours help to keep hot shows a lost heater later, or not at all, and a stuck switch sooner', () => {
  const coupled = { ...MODEL, exchangePerS: 0.003 };
  const helped = (neighboursK: number) => faultVisibility({ ...coupled, neighboursK }, 200, 0);
  const alone = helped(0);
  expect(helped(80).lostWhileHoldingS).toBeNull();
  expect(helped(10).stuckWhileHoldingS).toBeLessThanOrEqual(alone.stuckWhileHoldingS ?? Number.NaN);
  expect(helped(-30).lostWhileHoldingS).toBeLessThan(alone.lostWhileHoldingS ?? Number.NaN);
});

test('the less certain the delay of a zone, the later the promised time', () => {
  const after = (delayOffS: number) => faultVisibility({ ...MODEL, delayOffS }, 200, 0).lostWhileHeatingS ?? Number.NaN;
  expect(after(9)).toBeCloseTo(after(3) + 6, 0);
});

test('half a heater lost while heating up has a time only in a zone fast enough that it does not look like a fading heater', () => {
  const after = (lagS: number) => faultVisibility({ ...MODEL, lagS }, 200, 0).halfLostWhileHeatingS;
  expect(after(10)).toBeLessThan(40);
  expect(after(20)).toBeGreaterThan(after(10) ?? Number.NaN);
  expect(after(60)).toBeNull();
});
