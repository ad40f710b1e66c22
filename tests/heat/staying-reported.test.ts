import { describe, expect, test } from 'vitest';
import { NoRise } from '../../server/heat/no-rise.ts';
import type { HeatFault } from '../../server/heat/zone-status.ts';
import { ZoneTrace } from '../../server/heat/zone-trace.ts';
import { casesOf, IS_LONG_CHECK } from '../long-check.ts';
import { Scene } from './scenes.ts';
import type { ZoneParameters } from './zone-model.ts';
import { zoneSituation } from './zone-situation.ts';

const SMOOTH = { onOff: false, noiseK: 0.05, resolutionK: 0, ratePerS: 5 } as const;
const ZONE = 2;
const SET = [180, 200, 210] as const;
const MISSING = ['noRise', 'losingTemperature', 'sensorSlipped', 'heaterWeak'] as const satisfies HeatFault[];

/** On an evening after one from which the zones were learnt. */
function learnt(seed: number): Scene {
  const scene = new Scene(seed, SMOOTH).set(...SET);
  scene.run(30).heatUp(1800, 260);
  return scene;
}

/** Heats up from cold; the fault comes once the zone has reached `goalC`. */
function heatingUp(scene: Scene, goalC: number): Scene {
  scene.set(...SET).runUntil(() => scene.line.sensedC(ZONE - 1) > goalC, 900);
  return scene;
}

/** Whether the zone was reported all the while. */
function isReportedFor(scene: Scene, seconds: number): boolean {
  for (let s = 0; s < seconds; s += 5) if (!scene.run(5).has(ZONE, ...MISSING)) return false;
  return true;
}

describe('a fault stays reported until the reading is plausible again', () => {
  test.each(casesOf([21_001, 21_002, 21_003], 1))('a sensor beside its hole, of a learnt zone, line %i', (seed) => {
    const scene = learnt(seed).meddle(ZONE, { slippedTauS: 20 });
    expect(scene.runUntil(() => scene.has(ZONE, 'sensorSlipped'), 60)).not.toBeNull();
    expect(isReportedFor(scene, 600)).toBe(true);
    expect(scene.line.trueC(ZONE - 1) - scene.line.sensedC(ZONE - 1)).toBeGreaterThan(70);
    scene.meddle(ZONE, {});
    expect(scene.runUntil(() => !scene.has(ZONE, ...MISSING), 60)).not.toBeNull();
  });

  test.each(casesOf([21_004, 21_005], 1))('a sensor that slips out while nothing is learnt yet, line %i', (seed) => {
    const scene = heatingUp(new Scene(seed, SMOOTH).run(30), 90).meddle(ZONE, { slippedTauS: 40 });
    expect(scene.runUntil(() => scene.has(ZONE, ...MISSING), 60)).not.toBeNull();
    expect(isReportedFor(scene, 400)).toBe(true);
  });

  test.each(casesOf([21_006, 21_007, 21_008, 21_009], 1))(
    'a sensor that slips out 40 s into the first heat-up, line %i',
    (seed) => {
      const scene = new Scene(seed, SMOOTH)
        .run(30)
        .set(...SET)
        .run(40)
        .meddle(ZONE, { slippedTauS: 10 });
      expect(scene.runUntil(() => scene.has(ZONE, ...MISSING), 60)).not.toBeNull();
      expect(isReportedFor(scene, 300)).toBe(true);
    },
  );

  test.skipIf(!IS_LONG_CHECK)('a zone whose sensor slipped out and that was switched off, until it is cold', () => {
    const scene = learnt(21_010).meddle(ZONE, { slippedTauS: 10 });
    scene.runUntil(() => scene.has(ZONE, 'sensorSlipped'), 60);
    scene.set(0, 0, 0);
    expect(scene.runUntil(() => !scene.has(ZONE, 'sensorSlipped'), 6000)).not.toBeNull();
    expect(scene.line.sensedC(ZONE - 1)).toBeLessThan(50);
  });

  test('a heater that is lost and comes back, until the zone heats as usual', () => {
    const scene = learnt(21_011).meddle(ZONE, { heaterDead: true });
    expect(scene.runUntil(() => scene.has(ZONE, 'losingTemperature'), 300)).not.toBeNull();
    expect(isReportedFor(scene, 300)).toBe(true);
    scene.meddle(ZONE, {});
    expect(scene.runUntil(() => !scene.has(ZONE, ...MISSING), 120)).not.toBeNull();
    expect(scene.run(600).status(ZONE).faults).toEqual([]);
  });

  test('a heater that is lost and comes back while nothing is learnt yet', () => {
    const scene = heatingUp(new Scene(21_012, SMOOTH).run(30), 100).meddle(ZONE, { heaterDead: true });
    expect(scene.runUntil(() => scene.has(ZONE, ...MISSING), 90)).not.toBeNull();
    expect(isReportedFor(scene, 200)).toBe(true);
    scene.meddle(ZONE, {});
    expect(scene.runUntil(() => !scene.has(ZONE, ...MISSING), 150)).not.toBeNull();
  });
});

describe('on a line that does not send its power', () => {
  const zone = (rateKPerS: number): ZoneParameters => ({
    rateKPerS,
    deadTimeS: 8,
    steadyPower: 0.3,
    couplingPerS: 1 / 1500,
    gainPerK: 0.03,
    integralPerKS: 0.0001,
    onOff: false,
  });
  const blind = (seed: number) =>
    heatingUp(new Scene(seed, { ...SMOOTH, sendsPower: false, zones: [zone(0.5), zone(0.5), zone(0.5)] }).run(30), 80);

  test('a sensor that slipped out while heating up stays reported until it rises as fast as before, or the zone is off', () => {
    const zone = zoneSituation(new ZoneTrace(), { powerKnown: false, held: false });
    const rule = new NoRise();
    let temperatureC = 20;
    let second = 0;
    const found = (seconds: number, kPerS: number, stepK = 0) => {
      temperatureC += stepK;
      return Array.from({ length: seconds }, () => {
        temperatureC += kPerS;
        zone.trace.add(++second * 1000, temperatureC, 200, Number.NaN, -1);
        zone.trace.closeTick();
        zone.trace.closeSecond(1, 0);
        return rule.check(zone, second * 1000);
      });
    };
    expect(found(160, 0.4)).not.toContain(true);
    expect(found(60, 0.05, -5).at(-1)).toBe(true);
    // Its barrel is far too hot by the time it reads the set-point.
    expect(found(1300, 0.1)).not.toContain(false);
    expect(temperatureC).toBeGreaterThan(200);
    expect(found(60, 0, -100)).not.toContain(false);
    expect(found(60, 0.4)).toContain(false);
    expect(found(60, 0.4).at(-1)).toBe(false);
    expect(found(120, 0.01, -60).at(-1)).toBe(true);
    Object.assign(zone, { setpointC: 0 });
    expect(found(1, 0)).toEqual([false]);
  });

  test('a heater that is lost while heating up stays reported until the zone rises as fast as before', () => {
    const scene = blind(21_016).meddle(ZONE, { heaterDead: true });
    expect(scene.runUntil(() => scene.has(ZONE, 'noRise'), 90)).not.toBeNull();
    expect(isReportedFor(scene, 100)).toBe(true);
    scene.meddle(ZONE, {});
    expect(scene.runUntil(() => !scene.has(ZONE, ...MISSING), 60)).not.toBeNull();
    expect(scene.run(900).status(ZONE).faults).toEqual([]);
  });
});

describe('half a heater', () => {
  test('lost while holding, is named as weak and stays so until it is repaired', () => {
    const scene = learnt(21_013).meddle(ZONE, { heaterShare: 0.4 });
    expect(scene.runUntil(() => scene.has(ZONE, 'heaterWeak'), 400)).not.toBeNull();
    expect(isReportedFor(scene, 120)).toBe(true);
    expect(scene.faults.some(({ fault }) => fault === 'sensorSlipped')).toBe(false);
    scene.meddle(ZONE, {});
    expect(scene.runUntil(() => !scene.has(ZONE, ...MISSING), 300)).not.toBeNull();
  });

  test('lost while heating up, is named as weak', () => {
    const before = learnt(21_014).set(0, 0, 0);
    before.line.runSilently(20_000);
    const scene = heatingUp(before, 80).meddle(ZONE, { heaterShare: 0.5 });
    expect(scene.runUntil(() => scene.has(ZONE, 'heaterWeak'), 150)).not.toBeNull();
  });
});

describe('a small, slow line of coupled zones', () => {
  const zone = (rateKPerS: number, deadTimeS: number, couplingPerS = 1 / 400): ZoneParameters => ({
    rateKPerS,
    deadTimeS,
    steadyPower: 0.4,
    couplingPerS,
    gainPerK: 0.3 / (rateKPerS * deadTimeS),
    integralPerKS: 0.3 / (rateKPerS * deadTimeS) / 500,
    onOff: false,
  });
  const SLOW = [zone(0.2, 40), zone(0.16, 50), zone(0.22, 35)];
  const slow = (seed: number, zones = SLOW) => new Scene(seed, { ...SMOOTH, zones }).run(60).set(...SET);

  test('raises nothing on its first evening, is learnt, and a slipped sensor is then named', () => {
    const scene = slow(21_020);
    scene.heatUp(6000, 600);
    expect(scene.faults).toEqual([]);
    expect([...scene.watch.models().keys()]).toEqual([1, 2, 3]);
    scene.meddle(ZONE, { slippedTauS: 20 });
    expect(scene.runUntil(() => scene.has(ZONE, 'sensorSlipped'), 30)).not.toBeNull();
    expect(isReportedFor(scene, 300)).toBe(true);
  });

  test('half a heater lost while a learnt zone heats up beside its neighbours is named as weak', () => {
    const coupled = [zone(0.2, 18, 1 / 300), zone(0.14, 18, 1 / 300), zone(0.22, 18, 1 / 300)];
    const before = slow(21_027, coupled);
    before.heatUp(6000, 600).set(0, 0, 0);
    before.line.runSilently(30_000);
    const scene = heatingUp(before, 100).meddle(ZONE, { heaterShare: 0.5 });
    expect(scene.runUntil(() => scene.has(ZONE, 'heaterWeak'), 60)).not.toBeNull();
    expect(scene.faults.filter(({ zone }) => zone !== ZONE)).toEqual([]);
  });

  test('a heater that never works is found on the first evening, once other zones rise', () => {
    const scene = slow(21_021).meddle(ZONE, { heaterDead: true });
    const afterS = scene.runUntil(() => scene.has(ZONE, 'noRise'), 300);
    expect(afterS).not.toBeNull();
    expect(scene.faults.filter((claim) => claim.zone !== ZONE)).toEqual([]);
  });

  test('a heater that fails as the first heat-up has hardly begun stays reported until it works again', () => {
    const scene = slow(21_024).run(60).meddle(ZONE, { heaterShare: 0.15 });
    expect(scene.runUntil(() => scene.has(ZONE, ...MISSING), 100)).not.toBeNull();
    expect(isReportedFor(scene, 400)).toBe(true);
    scene.meddle(ZONE, {});
    expect(scene.runUntil(() => !scene.has(ZONE, ...MISSING), 200)).not.toBeNull();
  });

  test('a sensor that slips out of a zone that heated as usual until then stays reported from the first second', () => {
    const scene = heatingUp(slow(21_026), 60).meddle(ZONE, { slippedTauS: 60 });
    expect(scene.runUntil(() => scene.has(ZONE, ...MISSING), 20)).not.toBeNull();
    for (let s = 0; s < 100; s += 0.5) expect(scene.run(0.5).has(ZONE, ...MISSING)).toBe(true);
  });

  test('a heater that never works stays reported although its neighbours warm the zone', () => {
    const scene = slow(21_023, [zone(0.28, 30), zone(0.14, 50), zone(0.26, 30)]).meddle(ZONE, { heaterDead: true });
    expect(scene.runUntil(() => scene.has(ZONE, ...MISSING), 100)).not.toBeNull();
    expect(isReportedFor(scene, 600)).toBe(true);
    expect(scene.line.sensedC(ZONE - 1)).toBeGreaterThan(80);
  });

  test('a heater that fails while its neighbours keep the zone rising is found before anything is learnt', () => {
    const strongly = [zone(0.28, 30, 1 / 300), zone(0.14, 50, 1 / 300), zone(0.26, 30, 1 / 300)];
    const scene = heatingUp(slow(21_024, strongly), 100).meddle(ZONE, { heaterShare: 0.15 });
    expect(scene.runUntil(() => scene.has(ZONE, 'noRise'), 100)).not.toBeNull();
    expect(isReportedFor(scene, 300)).toBe(true);
  });

  test('a zone alone whose heater gives nothing, or a third, is slower than any healthy one', () => {
    for (const heaterShare of [0, 0.33]) {
      const scene = slow(21_025, [zone(0.16, 50)]).meddle(1, { heaterShare });
      expect(scene.runUntil(() => scene.has(1, 'noRise'), heaterShare === 0 ? 90 : 250)).not.toBeNull();
      for (let s = 0; s < 300; s += 5) expect(scene.run(5).has(1, 'noRise')).toBe(true);
    }
  });
});

test('a fast line whose other zones rise tells a dead heater without waiting for a slow one', () => {
  const scene = new Scene(21_022, SMOOTH)
    .run(30)
    .meddle(ZONE, { heaterDead: true })
    .set(...SET);
  const afterS = scene.runUntil(() => scene.has(ZONE, 'noRise'), 120);
  expect(afterS).not.toBeNull();
  expect(afterS).toBeLessThan(75);
});

test.each(casesOf([21_024, 21_026], 1))(
  'a reading that freezes in the first heat-up is called frozen, line %i',
  (seed) => {
    const scene = heatingUp(new Scene(seed, SMOOTH).run(30), 90).meddle(ZONE, { frozen: true });
    expect(scene.runUntil(() => scene.status(ZONE).faults.length > 0, 30)).not.toBeNull();
    expect(scene.status(ZONE).faults).toEqual(['frozen']);
  },
);
