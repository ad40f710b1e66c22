import { describe, expect, test } from 'vitest';
import { HeatWatch } from '../../server/heat/heat-watch.ts';
import type { HeatFault, ZoneStatus } from '../../server/heat/zone-status.ts';
import type { Reading } from '../../server/reading/reading.ts';
import { IS_LONG_CHECK, tries } from '../long-check.ts';
import { FAULT_SCENES, normalLife, playFault } from './fault-scenes.ts';
import { LIMITS, Scene } from './scenes.ts';
import { zoneLayout } from './zone-layout.ts';

/** Seeds from 20000 on were not used to tune the rules. */
const HELD_OUT = 20_000;
const PI = { onOff: false } as const;
/** Of each kind. */
const seeds = (count: number) => Array.from({ length: tries(count, 1 / 6) }, (_, i) => HELD_OUT + i);

describe('normal operation raises nothing', () => {
  test.each(seeds(6))('evening %i: heat-up, cold feed, fan, set-points up and down, a gap, a restart, off', (seed) => {
    const { claims } = normalLife(seed);
    expect(claims).toEqual([]);
  });

  test.each(seeds(4))('evening %i without the power channels', (seed) => {
    const { claims } = normalLife(seed, { sendsPower: false });
    expect(claims).toEqual([]);
  });

  test('noise of ±0.5 K on a slow line', () => {
    const { claims } = normalLife(HELD_OUT + 7, { noiseK: 0.25, ratePerS: 2 });
    expect(claims).toEqual([]);
  });

  test('a line that sends only every eight seconds', () => {
    const { claims } = normalLife(4, { ratePerS: 0.12 });
    expect(claims.filter((claim) => claim.includes('noRise'))).toEqual([]);
  });

  test('a sensor of whole kelvins that stays still for ten minutes is not frozen', () => {
    const scene = new Scene(HELD_OUT, { ...PI, resolutionK: 1, noiseK: 0, ratePerS: 5 });
    scene.set(180, 190, 200).heatUp(1800, 1500);
    expect(scene.faults).toEqual([]);
  });

  test('a zone that does not exist has no fault', () => {
    const scene = new Scene(HELD_OUT + 3, PI);
    scene.meddle(3, { sensorReads: Number.NaN });
    scene.set(180, 190, 0).run(60);
    expect(scene.status(3)).toMatchObject({ doing: 'unknown', temperatureC: null, faults: [] });
  });
});

describe('each fault is found on the zone that has it', () => {
  for (const fault of FAULT_SCENES) {
    if (fault.name.startsWith('reading frozen while holding')) continue;
    test.each(seeds(3))(`${fault.name}, line %i`, (seed) => {
      const outcome = playFault(fault, seed, PI);
      expect(outcome.delayS).not.toBeNull();
      expect(outcome.falseClaims).toBe(0);
      // Most within 15 s (measured over many more lines); a slow zone may take longer to show the fault.
      expect(outcome.delayS ?? Number.POSITIVE_INFINITY).toBeLessThanOrEqual(45);
    });

    test.skipIf(!IS_LONG_CHECK)(`${fault.name}, without the power channels`, () => {
      const outcome = playFault(fault, HELD_OUT + 5, { ...PI, sendsPower: false });
      expect(outcome.delayS).not.toBeNull();
      expect(outcome.falseClaims).toBe(0);
    });
  }

  test('finds a reading that freezes while holding, where the sensor is noisy', () => {
    const frozen = FAULT_SCENES.find(({ name }) => name.startsWith('reading frozen while holding'));
    if (frozen === undefined) throw new Error('scene missing');
    for (const seed of seeds(3)) {
      const outcome = playFault(frozen, seed, { ...PI, noiseK: 0.15, resolutionK: 0, ratePerS: 10 });
      expect(outcome.found).toBe('frozen');
      expect(outcome.delayS).toBeLessThanOrEqual(5);
    }
  });

  test('above the absolute limit', () => {
    const scene = new Scene(HELD_OUT, PI).set(180, 200, 200);
    scene.heatUp();
    scene.meddle(2, { sensorReads: 301 });
    const found = scene.runUntil(() => scene.has(2, 'aboveAbsoluteLimit'), 10);
    expect(found).toBeLessThanOrEqual(1.5);
    scene.watch.setLimits({ ...LIMITS, absoluteLimitC: 350 });
    scene.run(1);
    expect(scene.has(2, 'aboveAbsoluteLimit')).toBe(false);
  });

  test('a single garbled value is no fault', () => {
    const scene = new Scene(HELD_OUT + 1, PI).set(180, 200, 200);
    scene.heatUp();
    const layout = zoneLayout(3);
    let n = 0;
    const watch = new HeatWatch(LIMITS);
    const faults = new Set<HeatFault>();
    scene.line.run(60, (reading) => {
      const values = [...reading.values];
      if (n++ === 100) values[0] = 999;
      if (n === 130) values[4] = -127;
      for (const zone of watch.step({ ...reading, layout, values })) for (const fault of zone.faults) faults.add(fault);
    });
    expect([...faults]).toEqual([]);
  });
});

describe('what a zone is doing', () => {
  const doing = (scene: Scene) => scene.status(2).doing;

  test('off, heating, holding, cooling, off', () => {
    const scene = new Scene(HELD_OUT + 2, { ...PI, roomC: 20 });
    scene.run(3);
    expect(doing(scene)).toBe('off');
    scene.set(180, 200, 210).run(60);
    expect(doing(scene)).toBe('heating');
    expect(scene.status(2).atHeatSinceMs).toBeNull();
    scene.heatUp();
    expect(doing(scene)).toBe('holding');
    scene.set(180, 150, 210).run(10);
    expect(doing(scene)).toBe('cooling');
    scene.set(0, 0, 0).run(30);
    expect(doing(scene)).toBe('cooling');
    scene.run(6000);
    expect(doing(scene)).toBe('off');
  });

  test('at temperature from when it enters the band until it leaves it', () => {
    const scene = new Scene(HELD_OUT + 4, PI).set(180, 200, 210);
    scene.heatUp(1800, 600);
    const since = scene.status(2).atHeatSinceMs;
    expect(since).not.toBeNull();
    scene.run(60);
    expect(scene.status(2).atHeatSinceMs).toBe(since);
    scene.set(180, 215, 210).run(2);
    expect(scene.status(2).atHeatSinceMs).toBeNull();
  });

  test('follows from the temperature alone where set-point and power are not sent', () => {
    const layout = {
      ...zoneLayout(1, ['t', 's', 'f']),
      zones: [{ zone: 1, temperature: 0, setpoint: -1, power: -1, fault: -1 }],
    };
    const watch = new HeatWatch(LIMITS);
    let statuses: readonly ZoneStatus[] = [];
    for (let i = 0; i < 300; i++) {
      const temperatureC = Math.min(25 + i * 0.1, 45);
      statuses = watch.step({ timeMs: i * 100, layout, values: [temperatureC], lostBefore: 0, restarted: false });
      if (i === 150) expect(statuses[0]?.doing).toBe('heating');
    }
    expect(statuses[0]).toMatchObject({ setpointC: null, power: null });
  });
});

describe('cost per reading', () => {
  const layout = zoneLayout(3);
  const reading = (i: number): Reading => ({
    timeMs: 1e12 + i * 2,
    layout,
    values: [180, 180, 0.3, 0, 200, 200, 0.3, 0, 210, 210, 0.3, 0],
    lostBefore: 0,
    restarted: false,
  });

  test('returns the same array while nothing changes', () => {
    const watch = new HeatWatch(LIMITS);
    for (let i = 0; i < 20_000; i++) watch.step(reading(i));
    const before = watch.step(reading(20_000));
    for (let i = 20_001; i < 20_500; i++) expect(watch.step(reading(i))).toBe(before);
  });

  test('watches a zone from the moment it appears', () => {
    const watch = new HeatWatch(LIMITS);
    const small = { ...layout, zones: layout.zones.slice(0, 1) };
    expect(watch.step({ ...reading(0), layout: small })).toHaveLength(1);
    expect(watch.step(reading(1)).map(({ zone }) => zone)).toEqual([1, 2, 3]);
  });
});
