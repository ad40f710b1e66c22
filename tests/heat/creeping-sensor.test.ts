import { expect, test } from 'vitest';
import { HeatWatch } from '../../server/heat/heat-watch.ts';
import { normal, seeded } from '../chance.ts';
import { zoneLayout } from './zone-layout.ts';

const LAYOUT = zoneLayout(1, ['t', 's', 'p']);
const SETPOINT_C = 190;
const OUT_S = 600;

/** A sensor slips out of a zone at temperature, cools in the air next to it, and is warmed by the zone, which now overheats. */
function readingC(seconds: number): number {
  if (seconds < OUT_S) return SETPOINT_C;
  const outS = seconds - OUT_S;
  const air = 80 + Math.max(0, outS - 60) * 0.18;
  return air + (SETPOINT_C - 80) * Math.exp(-outS / 15);
}

test('keeps the fault while a sensor that slipped out creeps up again', () => {
  const noise = normal(seeded(5));
  const watch = new HeatWatch({ absoluteLimitC: 300, atHeatWithinC: 5 });
  let raisedS = Number.NaN;
  for (let i = 0; i < 900 * 10; i++) {
    const seconds = i / 10;
    const temperatureC = readingC(seconds) + 0.1 * noise();
    const power = seconds < OUT_S + 3 ? 0.3 + 0.02 * noise() : 1;
    const [zone] = watch.step({
      timeMs: 1_700_000_000_000 + seconds * 1000,
      layout: LAYOUT,
      values: [Math.round(temperatureC * 10) / 10, SETPOINT_C, Math.round(power * 100) / 100],
      lostBefore: 0,
      restarted: false,
    });
    const faults = zone?.faults ?? [];
    if (Number.isNaN(raisedS)) {
      if (faults.length > 0) raisedS = seconds;
    } else expect(faults, `${seconds} s`).not.toEqual([]);
  }
  expect(raisedS).toBeGreaterThan(OUT_S);
  expect(raisedS).toBeLessThan(OUT_S + 15);
});
