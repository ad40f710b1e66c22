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
