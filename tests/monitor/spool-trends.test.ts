import { expect, it } from 'vitest';
import { createSpoolTrends } from '../../server/monitor/run/spool-trends.ts';

const LIMITS = {
  nominalMm: 1.75,
  toleranceMm: 0.05,
  hotendLimitMm: 1.9,
  smallestFeedableMm: 1.6,
  strandPresentMm: 0.5,
  gaugeUncertaintyMm: 0.01,
  offToleranceLengthMm: 500,
};

it('leaves strand that was cut out out of the mean diameter, and takes it in again after an undo', () => {
  const trends = createSpoolTrends(LIMITS, 0);
  expect(trends.meanDiameterMm([])).toBeNull();
  // 10 m of 1.7 mm with a metre of 2.2 mm in it.
  for (let mm = 5; mm <= 10_000; mm += 5) trends.step(mm * 20, mm, mm > 4000 && mm <= 5000 ? 2.2 : 1.7, true);
  expect(trends.meanDiameterMm([])).toBeCloseTo(1.75, 9);
  expect(trends.meanDiameterMm([{ fromMm: 3950, toMm: 5050 }])).toBeCloseTo(1.7, 9);
  // Strand before the start of the spool was never in it.
  expect(trends.meanDiameterMm([{ fromMm: -500, toMm: -10 }])).toBeCloseTo(1.75, 9);
});

it('leaves it out on a spool of a kilometre nearly as exactly, though marks were dropped to save memory', () => {
  const trends = createSpoolTrends(LIMITS, 0);
  const isThick = (mm: number) => (mm > 4000 && mm <= 5000) || (mm > 900_000 && mm <= 901_000);
  for (let mm = 10; mm <= 1_000_000; mm += 10) trends.step(mm * 20, mm, isThick(mm) ? 2.2 : 1.7, true);
  const cutOuts = [
    { fromMm: 4000, toMm: 5000 },
    { fromMm: 900_000, toMm: 901_000 },
  ];
  // At worst the diameter of 0.2 m at each of four ends is wrong by 0.5 mm, of 998 m.
  expect(Math.abs(trends.meanDiameterMm(cutOuts)! - 1.7)).toBeLessThan((4 * 200 * 0.5) / 998_000);
});
