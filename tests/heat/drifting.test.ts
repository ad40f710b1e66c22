import { expect, test } from 'vitest';
import { Drifting } from '../../server/heat/drifting.ts';
import { LearntZone } from '../../server/heat/learnt-zone.ts';
import { ZoneTrace } from '../../server/heat/zone-trace.ts';

const SETPOINT_C = 200;

/** When drifting is reported, s after the zone left the band; it had held its set-point until then. */
function driftsAfterS(awayK: (second: number) => number, seconds: number): number | null {
  const trace = new ZoneTrace();
  const rule = new Drifting();
  const zone = {
    trace,
    learnt: new LearntZone(),
    elsewhere: null,
    slowness: 1,
    model: null,
    setpointC: SETPOINT_C,
    setpointSteadyS: 3600,
    powerKnown: true,
    held: true,
    withinC: 5,
    neighboursHotterK: 0,
    neighboursColderK: 0,
    hotStartAgoS: Number.POSITIVE_INFINITY,
  };
  for (let s = -60; s <= seconds; s++) {
    trace.add(s * 1000, SETPOINT_C + (s < 0 ? 0 : awayK(s)), SETPOINT_C, 0.5, -1);
    trace.closeTick();
    trace.closeSecond(1, 0);
    if (rule.judge(zone)) return s;
  }
  return null;
}

test('reports a zone that stays away or keeps moving away, not one that a slow controller brings back', () => {
  expect(driftsAfterS(() => -8, 400)).toBeLessThan(260);
  expect(driftsAfterS((s) => 6 + s / 60, 400)).toBeLessThan(260);
  expect(driftsAfterS((s) => -24 * Math.exp(-s / 250), 400)).toBeNull();
});
