import { expect, test } from 'vitest';
import { HeatWatch } from '../../server/heat/heat-watch.ts';
import { normal, seeded } from '../chance.ts';
import { zoneLayout } from './zone-layout.ts';

const SETPOINT_C = 190;
const OUT_S = 600;
const BACK_S = 1300;

/**
 * A sensor slips out of a zone at temperature, cools in the air next to it, and is warmed by the zone, which now overheats; then it is
 * put back.
 */
function readingC(seconds: number): number {
  if (seconds < OUT_S) return SETPOINT_C;
  if (seconds > BACK_S) return 280 - 80 * Math.exp((BACK_S - seconds) / 10);
  const outS = seconds - OUT_S;
  const air = 80 + Math.max(0, outS - 60) * 0.18;
  return air + (SETPOINT_C - 80) * Math.exp(-outS / 15);
}

test.each([
  ['with', ['t', 's', 'p']],
  ['without', ['t', 's']],
] as const)('keeps the fault while a sensor that slipped out creeps up to its set-point, %s power', (_, names) => {
  const layout = zoneLayout(1, names);
  const noise = normal(seeded(5));
  const watch = new HeatWatch({ absoluteLimitC: 300, atHeatWithinC: 5 });
  let raisedS = Number.NaN;
  for (let i = 0; i < (BACK_S + 60) * 10; i++) {
    const seconds = i / 10;
    const temperatureC = readingC(seconds) + 0.1 * noise();
    const power = seconds < OUT_S + 3 ? 0.3 + 0.02 * noise() : 1;
    const [zone] = watch.step({
      timeMs: 1_700_000_000_000 + seconds * 1000,
      layout,
      values: [Math.round(temperatureC * 10) / 10, SETPOINT_C, Math.round(power * 100) / 100].slice(0, names.length),
      lostBefore: 0,
      restarted: false,
    });
    const faults = zone?.faults ?? [];
    if (Number.isNaN(raisedS)) {
      if (faults.length > 0) raisedS = seconds;
    } else if (seconds <= BACK_S) expect(faults, `${seconds} s`).not.toEqual([]);
    else if (seconds > BACK_S + 20) expect(faults).not.toContain('losingTemperature');
  }
  expect(raisedS).toBeGreaterThan(OUT_S);
  expect(raisedS).toBeLessThan(OUT_S + 15);
});
