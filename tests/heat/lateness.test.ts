import { expect, test } from 'vitest';
import { Lateness } from '../../server/heat/lateness.ts';
import type { ThermalModel } from '../../server/heat/thermal-model.ts';
import { ZoneTrace } from '../../server/heat/zone-trace.ts';
import { MODEL } from './first-order-zone.ts';
import { zoneSituation } from './zone-situation.ts';

interface Course {
  readonly temperatureC: (second: number) => number;
  readonly power: (second: number) => number;
  readonly neighboursK?: number;
  readonly model?: ThermalModel;
}

/** When a zone with a set-point of 200 °C, 5 K wide, is late; s. */
function lateAfterS({ temperatureC, power, neighboursK = 0, model = MODEL }: Course): number | null {
  const trace = new ZoneTrace();
  const rule = new Lateness();
  for (let s = 1; s <= 3000; s++) {
    trace.add(s * 1000, temperatureC(s), 200, power(s), -1);
    trace.closeTick();
    trace.closeSecond(1, neighboursK);
    const late = rule.check(
      zoneSituation(trace, {
        model,
        setpointSteadyS: s,
        held: false,
        neighboursHotterK: Math.max(0, neighboursK),
        neighboursColderK: Math.max(0, -neighboursK),
      }),
    );
    if (late) return s;
  }
  return null;
}

test('a zone stuck below its set-point at full power is late, and later where its neighbours are colder than when learnt', () => {
  const stuck = { temperatureC: () => 180, power: () => 1 };
  const model = { ...MODEL, exchangePerS: 0.002 };
  const usual = lateAfterS({ ...stuck, model });
  // Three times 15 K at about 0.67 K/s with the model's delay, plus five minutes.
  expect(usual).toBeGreaterThan(460);
  expect(usual).toBeLessThan(500);
  expect(lateAfterS({ ...stuck, model, neighboursK: -200 })).toBeGreaterThan((usual ?? 0) + 60);
});

test('gives more time to a zone that arrives soon or whose controller still raises its power; one that levels out below is late', () => {
  const usual = lateAfterS({ temperatureC: () => 190, power: () => 0.5 }) ?? 0;
  expect(usual).toBeGreaterThan(300);
  // Rises by 1.25 K a minute until it is in the band, after 576 s.
  expect(lateAfterS({ temperatureC: (s) => Math.min(197, 183 + s / 48), power: () => 0.5 })).toBeNull();
  const climbing = lateAfterS({ temperatureC: () => 190, power: (s) => Math.min(1, 0.3 + s / 2000) });
  expect(climbing).toBeGreaterThan(usual + 500);
  expect(climbing).toBeLessThan(usual + 700);
  const levelsOut = lateAfterS({ temperatureC: (s) => Math.min(192, 183 + s / 48), power: () => 1 });
  expect(levelsOut).toBeGreaterThan(432);
  expect(levelsOut).toBeLessThan(700);
});
