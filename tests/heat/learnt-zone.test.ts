import { expect, test } from 'vitest';
import { LearntZone } from '../../server/heat/learnt-zone.ts';
import { ZoneTrace } from '../../server/heat/zone-trace.ts';

/** A cold zone of `rate` K/s at full power, without losses, whose rise sets in after `delayS`. */
function heatUp(
  rate: number | ((second: number) => number),
  delayS: number,
  seconds: number,
  breaksOffAtS = Number.POSITIVE_INFINITY,
): LearntZone {
  const trace = new ZoneTrace();
  const learnt = new LearntZone();
  let temperatureC = 20;
  for (let s = 1; s <= seconds; s++) {
    if (s > delayS && s < breaksOffAtS) temperatureC += typeof rate === 'number' ? rate : rate(s);
    trace.add(s * 1000, temperatureC, 200, 1, -1);
    trace.closeTick();
    trace.closeSecond(1, 0);
    learnt.learnHeating(trace);
  }
  return learnt;
}

test('a zone has no response before it has risen for twenty seconds', () => {
  expect(heatUp(1, 10, 30).response).toBeNull();
  expect(heatUp(1, 200, 150).response).toBeNull();
});

test('its rate is what it rises by, beyond what holding may take', () => {
  const { response } = heatUp(0.5, 10, 120);
  // Holding takes up to 0.55 at 200 °C, of which four fifths are subtracted while it is not known.
  expect(response?.rateKPerS).toBeGreaterThan(0.5);
  expect(response?.rateKPerS).toBeLessThan(0.65);
});

test('a brisk zone responds within the usual time, a slow one within half as long again as its rise lags behind', () => {
  expect(heatUp(0.5, 20, 120).response?.lastsS).toBe(22);
  // The heat-up is followed from its second second on.
  expect(heatUp(0.15, 60, 240).response?.lastsS).toBe(89);
  expect(heatUp(0.15, 60, 240).lastsS).toBe(89);
  expect(new LearntZone().lastsS).toBe(22);
});

test('a rise that breaks off changes nothing', () => {
  const usual = heatUp(0.5, 10, 100).response?.rateKPerS ?? Number.NaN;
  expect(heatUp(0.5, 10, 200, 100).response?.rateKPerS).toBeCloseTo(usual, 1);
});

test('the steepest rise is that of the heat-up', () => {
  expect(heatUp(0.5, 10, 100).steepestKPerS).toBeCloseTo(0.5, 2);
});

test('a rise has set in once it no longer becomes steeper', () => {
  expect(new LearntZone().hasSetIn).toBe(false);
  expect(heatUp(0.5, 10, 45).hasSetIn).toBe(false);
  expect(heatUp(0.5, 10, 60).hasSetIn).toBe(true);
  expect(heatUp((s) => 0.001 * s, 10, 200).hasSetIn).toBe(false);
});
