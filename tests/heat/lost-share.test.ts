import { expect, test } from 'vitest';
import { LaggedPower } from '../../server/heat/lagged-power.ts';
import { type LostShare, lostShare } from '../../server/heat/lost-share.ts';
import { UnexplainedHeat } from '../../server/heat/unexplained-heat.ts';
import { ZoneTrace } from '../../server/heat/zone-trace.ts';
import { MODEL, playZone } from './first-order-zone.ts';
import { zoneSituation } from './zone-situation.ts';

/** A zone as slow as those of a bench extruder with small bands; common practice, no source. */
const SLOW = { ...MODEL, rateKPerS: 0.2, lossPerS: 0.0005, lagS: 40, secondLagS: 15 };
const BREAKS_AT_S = 300;

interface Play {
  /** Share of its heat that the heater gives, each second. */
  readonly works?: (second: number) => number;
  readonly power?: (second: number) => number;
  readonly learnt?: Partial<typeof SLOW>;
  readonly neighboursK?: (second: number) => number;
  readonly untilS?: number;
}

/** What the zone lost, according to the trace of a heat-up from cold. */
function lostAfter(sinceS: number, play: Play = {}): LostShare | null {
  const { works = () => 1, power = () => 1, learnt, neighboursK = () => 0 } = play;
  const model = { ...SLOW, ...learnt };
  const trace = new ZoneTrace();
  const at = (s: number) => ({ sent: power(s), applied: power(s) * works(s) });
  playZone(
    BREAKS_AT_S + sinceS,
    20,
    0,
    at,
    (second, temperatureC, { sent }) => {
      trace.add(second * 1000, temperatureC, 250, sent, -1);
      if (second % 1 > 0.05) return;
      trace.closeTick();
      trace.closeSecond(1, neighboursK(second));
    },
    SLOW,
  );
  const lagged = new LaggedPower();
  lagged.follow(trace, model.lagS, model.secondLagS);
  return lostShare(trace, model, lagged);
}

const breaks = (share: number) => (second: number) => (second > BREAKS_AT_S ? share : 1);

test.each([0, 0.3, 0.5, 0.7])('a heater that still gives %f of its heat lost the rest', (gives) => {
  const { least, most } = lostAfter(100, { works: breaks(gives) }) ?? { least: 0, most: 2 };
  expect(least).toBeLessThan(1 - gives);
  expect(most).toBeGreaterThan(1 - gives);
  expect(most - least).toBeLessThan(0.35);
  expect(least).toBeGreaterThan(1 - gives - 0.2);
});

test('the longer ago the loss, the better its share is known', () => {
  const widthAfter = (sinceS: number) => {
    const lost = lostAfter(sinceS, { works: breaks(0.5) });
    return lost === null ? Number.NaN : lost.most - lost.least;
  };
  expect(widthAfter(60)).toBeGreaterThan(2 * widthAfter(120));
});

test('a whole heater lost nothing that could be told from noise', () => {
  expect(lostAfter(0)?.least ?? 0).toBeLessThan(0.02);
});

test('errors of the model that were there all along are no loss', () => {
  // Learnt too high by a tenth, or beside neighbours whose heat was learnt wrong.
  expect(lostAfter(0, { learnt: { rateKPerS: 1.1 * SLOW.rateKPerS } })?.least ?? 0).toBeLessThan(0.1);
  const neighboursK = () => 40;
  expect(lostAfter(0, { learnt: { exchangePerS: 0.001 }, neighboursK })?.least ?? 0).toBeLessThan(0.1);
  const lost = lostAfter(100, { learnt: { exchangePerS: 0.001 }, neighboursK, works: breaks(0.5) });
  expect(lost?.least).toBeGreaterThan(0.3);
  expect(lost?.most).toBeLessThan(0.75);
});

test('a heater that was always weak lost nothing within the trace', () => {
  expect(lostAfter(0, { works: () => 0.5 })?.least ?? 0).toBeLessThan(0.2);
});

test('nothing is known while the power is not steady, or just was switched on', () => {
  const works = breaks(0.5);
  expect(lostAfter(100, { works, power: (s) => (s > BREAKS_AT_S + 60 ? 0.8 : 1) })).toBeNull();
  expect(lostAfter(100, { works, power: (s) => (s > BREAKS_AT_S + 60 ? 0.95 : 1) })).not.toBeNull();
  expect(lostAfter(-260, { works })).toBeNull();
});

/** The faults that are reported of a zone whose heater gives this share from a second on, in order; its lag was learnt too short. */
function faultsOf(gives: number, breaksAtS: number): string[] {
  const model = { ...SLOW, rateKPerS: 0.5, lossPerS: 0.00125, lagS: 20, secondLagS: 6, delayOffS: 5 };
  const zone = zoneSituation(new ZoneTrace(), { model, setpointC: 400, setpointSteadyS: 300, held: false });
  const balance = new UnexplainedHeat();
  const found = new Set<string>();
  const at = (s: number) => ({ sent: 1, applied: s > breaksAtS ? gives : 1 });
  const take = (second: number, temperatureC: number) => {
    zone.trace.add(second * 1000, temperatureC, 400, 1, -1);
    if (second % 1 > 0.05) return;
    zone.trace.closeTick();
    zone.trace.closeSecond(1, 0);
    const fault = balance.check(zone, model, second * 1000);
    if (fault !== null) found.add(fault);
  };
  playZone(breaksAtS + 90, 20, 0, at, take, { ...model, lagS: 24 });
  return [...found];
}

test('a dead heater is never taken for a weak one, whenever it failed; half a heater is named as weak', () => {
  for (let breaksAtS = 150; breaksAtS < 162; breaksAtS++) {
    expect(faultsOf(0, breaksAtS)).toEqual(['noRise']);
    expect(faultsOf(0.5, breaksAtS).at(-1)).toBe('heaterWeak');
  }
});
