import { expect, test } from 'vitest';
import { Drifting } from '../../server/heat/drifting.ts';
import { ZoneTrace } from '../../server/heat/zone-trace.ts';
import { zoneSituation } from './zone-situation.ts';

const SETPOINT_C = 200;

/** When drifting is reported, s after the zone left the band; it had held its set-point until then. */
function driftsAfterS(
  awayK: (second: number) => number,
  seconds: number,
  { power = 0.5, held = true, setpointSteadyS = 3600, neighboursHotterK = 0, beforeK = 0 } = {},
): number | null {
  const trace = new ZoneTrace();
  const rule = new Drifting();
  const zone = zoneSituation(trace, { setpointC: SETPOINT_C, setpointSteadyS, held, neighboursHotterK });
  for (let s = -60; s <= seconds; s++) {
    trace.add(s * 1000, SETPOINT_C + (s < 0 ? beforeK : awayK(s)), SETPOINT_C, power, -1);
    trace.closeTick();
    trace.closeSecond(1, 0);
    zone.setpointSteadyS++;
    if (rule.check(zone)) return s;
  }
  return null;
}

test('reports a zone that stays away or keeps moving away, not one that a slow controller brings back', () => {
  expect(driftsAfterS(() => -8, 400)).toBeLessThan(260);
  expect(driftsAfterS((s) => 6 + s / 60, 400)).toBeLessThan(260);
  expect(driftsAfterS((s) => -24 * Math.exp(-s / 250), 400)).toBeNull();
});

test('does not report a zone that comes up so slowly that it holds the edge of its band before its mean is inside', () => {
  const comesUp = (s: number) => -5.2 - 2.6 * Math.exp(-s / 500);
  expect(driftsAfterS(comesUp, 900, { beforeK: comesUp(0) })).toBeNull();
  expect(driftsAfterS(comesUp, 900)).toBeLessThan(260);
});

test('reports a zone that stays above its set-point without power, though it never held it', () => {
  const hot = { power: 0, held: false, setpointSteadyS: 0 };
  expect(driftsAfterS(() => 16, 400, hot)).toBeLessThan(260);
  expect(driftsAfterS((s) => 16 + s / 100, 400, hot)).toBeLessThan(260);
  // It cools as a slow healthy zone does.
  expect(driftsAfterS((s) => 60 * Math.exp(-s / 1500), 1500, hot)).toBeNull();
  expect(driftsAfterS(() => 16, 400, { ...hot, power: 0.2 })).toBeNull();
  // A hotter neighbour heats it.
  expect(driftsAfterS(() => 16, 400, { ...hot, neighboursHotterK: 3 })).toBeNull();
  expect(driftsAfterS(() => -16, 400, hot)).toBeNull();
});

test('does not report a zone that held its set-point and that a hotter neighbour warms, as long as it is not powered', () => {
  const warmed = { power: 0, neighboursHotterK: 30 };
  const creepsUp = (s: number) => 5.5 + s / 400;
  expect(driftsAfterS(creepsUp, 900, warmed)).toBeNull();
  expect(driftsAfterS(creepsUp, 900, { ...warmed, power: 0.1 })).toBeLessThan(260);
  expect(driftsAfterS(creepsUp, 900, { ...warmed, neighboursHotterK: 0.5 })).toBeLessThan(260);
  expect(driftsAfterS((s) => -creepsUp(s), 900, warmed)).toBeLessThan(260);
});
