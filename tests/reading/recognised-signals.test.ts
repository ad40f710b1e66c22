import { expect, test } from 'vitest';
import { createLineTracker } from '../../server/monitor/line/line-tracker.ts';
import { type RecognisedSignals, recognisedSignals } from '../../server/reading/reading.ts';
import { defaultLineSettings } from '../../server/settings/check-line-settings.ts';
import { Bench } from './intake-bench.ts';

const lastOf = (bench: Bench): RecognisedSignals => recognisedSignals(bench.intake.layout);
const SKETCH = Array.from({ length: 6 }, (_, i) => `Dia_um:${1745 + i} Temp:200.${i} Target:200`);
const roles = (factor: number) => [{ name: 'Dia_um', role: 'd', factor, offset: 0 }];

test('recognises nothing of an unknown sketch, and lists its names as sent', () => {
  expect(lastOf(new Bench().lines(SKETCH))).toMatchObject({
    diameter: false,
    temperature: false,
    anything: false,
    unknownNames: ['Dia_um', 'Temp', 'Target'],
  });
});

test('recognises a mapped name, and two axes as a diameter', () => {
  const mapped = lastOf(new Bench({ roles: roles(0.001) }).lines(SKETCH));
  expect(mapped).toMatchObject({ diameter: true, temperature: false, unknownNames: ['Temp', 'Target'] });
  const axes = new Bench().lines(Array.from({ length: 6 }, (_, i) => `n=${i} dx=1.75${i} dy=1.74${i} t1=200.1`));
  expect(lastOf(axes)).toEqual({
    diameter: true,
    twoAxes: true,
    travel: false,
    screwSpeed: false,
    temperature: true,
    zones: [{ zone: 1, temperature: true, setpoint: false, power: false }],
    anything: true,
    unknownNames: [],
  });
});

test.each([
  [1, Number.NaN, 1750],
  [0.001, 1.75, null],
])('with the factor %d, micrometres are a diameter of %d mm', (factor, diameterMm, impossibleMm) => {
  const tracker = createLineTracker(defaultLineSettings(), 0, new Map());
  for (const reading of new Bench({ roles: roles(factor) }).lines(SKETCH).readings) tracker.step(reading);
  expect(Number(tracker.last?.diameterMm.toFixed(9))).toBe(diameterMm);
  expect(tracker.impossibleMm).toBe(impossibleMm);
  expect(tracker.stage.stage).toBe('stopped');
});
