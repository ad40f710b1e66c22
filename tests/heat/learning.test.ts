import { describe, expect, test } from 'vitest';
import { HeatWatch } from '../../server/heat/heat-watch.ts';
import { StandingHot } from '../../server/heat/standing-hot.ts';
import { isThermalModel } from '../../server/heat/thermal-model.ts';
import type { ZoneStatus } from '../../server/heat/zone-status.ts';
import { casesOf } from '../long-check.ts';
import { LIMITS, Scene } from './scenes.ts';
import { zoneLayout } from './zone-layout.ts';

const SMOOTH = { onOff: false, noiseK: 0.05, resolutionK: 0, ratePerS: 5 } as const;

describe('learning from heat-ups', () => {
  test('learns rate, dead time and fit of each zone from one heat-up', () => {
    const scene = new Scene(20_100, SMOOTH).set(180, 200, 210);
    scene.run(30).heatUp(1800, 260);
    const models = scene.watch.models();
    expect([...models.keys()]).toEqual([1, 2, 3]);
    for (const [zone, model] of models) {
      const truth = scene.line.parameters.zones[zone - 1];
      if (truth === undefined) throw new Error(`no zone ${zone}`);
      expect(isThermalModel(model)).toBe(true);
      expect(model.rateKPerS / truth.rateKPerS).toBeGreaterThan(0.85);
      expect(model.rateKPerS / truth.rateKPerS).toBeLessThan(1.15);
      const delayS = model.deadTimeS + model.lagS + model.secondLagS;
      expect(Math.abs(delayS - truth.deadTimeS)).toBeLessThan(model.delayOffS + 1);
      expect(model.fitK).toBeLessThan(0.5);
    }
  });

  test('learns nothing from a line that does not send its power', () => {
    const scene = new Scene(20_100, { ...SMOOTH, sendsPower: false }).set(180, 200, 210);
    scene.run(30).heatUp(1800, 260);
    expect(scene.watch.models().size).toBe(0);
  });

  test('uses the models it is given, and can forget them', () => {
    const scene = new Scene(20_101, SMOOTH).set(180, 200, 210);
    scene.run(30).heatUp(1800, 260);
    const kept = scene.watch.models();
    const next = new HeatWatch(LIMITS, kept);
    expect(next.models()).toEqual(kept);
    next.step({ timeMs: 0, layout: zoneLayout(3), values: [], lostBefore: 0, restarted: false });
    next.forget();
    expect(next.models().size).toBe(0);
  });

  test.each(casesOf([20_110, 20_111, 20_112, 20_113, 20_114], 1))(
    'raises nothing during the heat-up of the next evening, line %i',
    (seed) => {
      // The first evening's watch starts before the heat-up on even lines, during it on odd ones.
      const scene = new Scene(seed, { onOff: false }).run(seed % 2 === 0 ? 0 : 40).set(180, 200, 210);
      scene.heatUp(1800, 260);
      const next = new HeatWatch(LIMITS, scene.watch.models());
      expect(next.models().size).toBe(3);
      scene.set(0, 0, 0).line.runSilently(15_000);
      const faults: string[] = [];
      const watch = (seconds: number) =>
        scene.line.run(seconds, (reading) => {
          for (const { zone, faults: found } of next.step(reading))
            faults.push(...found.map((one) => `${zone}: ${one}`));
        });
      watch(30);
      scene.set(180, 200, 210);
      watch(1500);
      expect([...new Set(faults)]).toEqual([]);
    },
  );

  test('rejects a model with impossible numbers', () => {
    expect(isThermalModel(null)).toBe(false);
    expect(isThermalModel({ rateKPerS: 0.5 })).toBe(false);
  });
});

describe('faults that need a learnt model', () => {
  const learntScene = (seed: number): Scene => {
    const scene = new Scene(seed, SMOOTH).set(180, 200, 210);
    scene.run(30).heatUp(1800, 260);
    return scene;
  };

  test('a reading that falls faster than the zone can cool means that the sensor slipped out', () => {
    const scene = learntScene(20_102).meddle(2, { slippedTauS: 20 });
    expect(scene.runUntil(() => scene.has(2, 'sensorSlipped'), 60)).not.toBeNull();
  });

  test('expects the reading where it is until the heater is lost, and keeps ten minutes of expectations', () => {
    const scene = learntScene(20_105);
    for (let i = 0; i < 60; i++) {
      scene.run(5);
      const { temperatureC, expected } = scene.status(2);
      expect(temperatureC).toBeGreaterThan(expected?.lowC ?? Number.POSITIVE_INFINITY);
      expect(temperatureC).toBeLessThan(expected?.highC ?? Number.NEGATIVE_INFINITY);
    }
    const past = scene.watch.expectedPast().get(2) ?? [];
    expect(past.length).toBeGreaterThan(60);
    expect((past.at(-1)?.timeMs ?? 0) - (past[0]?.timeMs ?? 0)).toBeLessThanOrEqual(600_000);
    scene.meddle(2, { heaterDead: true });
    const left = scene.runUntil(() => {
      const { temperatureC, expected } = scene.status(2);
      return expected !== null && (temperatureC ?? 0) < expected.lowC;
    }, 200);
    expect(left).not.toBeNull();
  });

  test('finds repeated swings far beyond the band', () => {
    const scene = learntScene(20_103);
    const watch = new HeatWatch(LIMITS);
    const faults = new Set<string>();
    let at = 0;
    scene.line.run(1800, (reading) => {
      const values = [...reading.values];
      values[0] = (values[1] ?? 0) + 16 * Math.sin((at++ / 5) * ((2 * Math.PI) / 160));
      values[2] = 0.3;
      for (const { zone, faults: found } of watch.step({ ...reading, values }))
        if (zone === 1) for (const fault of found) faults.add(fault);
    });
    expect([...faults]).toContain('oscillating');
  });

  test('calls a set-point late that the zone cannot reach', () => {
    const scene = new Scene(20_104, SMOOTH).set(180, 200, 210);
    scene.run(30).heatUp(1800, 260);
    scene.meddle(2, { loss: 0.19 }).set(180, 640, 210);
    expect(scene.runUntil(() => scene.status(2).faults.length > 0, 9000)).not.toBeNull();
  });

  test('finds a zone that slowly leaves its set-point and stays away', () => {
    const watch = new HeatWatch(LIMITS);
    const layout = zoneLayout(1, ['t', 's', 'f']);
    let drifted = -1;
    for (let s = 0; s < 2400; s++) {
      const temperatureC = s < 900 ? 200 : Math.max(192, 200 - (s - 900) * 0.02);
      const reading = {
        timeMs: s * 1000,
        layout,
        values: [temperatureC + (s % 2) * 0.1, 200, 0],
        lostBefore: 0,
        restarted: false,
      };
      if (drifted < 0 && watch.step(reading)[0]?.faults.includes('drifting')) drifted = s;
    }
    // 5 K below from second 1150 on; reported after four minutes.
    expect(drifted).toBeGreaterThan(1380);
    expect(drifted).toBeLessThan(1420);
  });
});

describe('heat and screw together', () => {
  const zone = (temperatureC: number, setpointC: number): ZoneStatus => ({
    zone: 1,
    doing: 'heating',
    temperatureC,
    setpointC,
    power: 1,
    faults: [],
    atHeatSinceMs: null,
    expected: null,
  });

  test('reports a screw that turns while any zone is far below its set-point', () => {
    const standing = new StandingHot();
    expect(standing.step(0, [zone(60, 200)], 12, Number.NaN).coldForScrew?.zone).toBe(1);
    expect(standing.step(0, [zone(60, 200)], 0, Number.NaN).coldForScrew).toBeNull();
    expect(standing.step(0, [zone(195, 200)], 12, Number.NaN).coldForScrew).toBeNull();
    expect(standing.step(0, [zone(60, 200)], Number.NaN, 10).coldForScrew).toBeNull();
  });

  test('counts from when the line became both hot and still, until it moves', () => {
    const standing = new StandingHot();
    standing.step(0, [zone(200, 200)], 0, 0);
    expect(standing.step(1_500_000, [zone(200, 200)], 0, 0).hotStandingS).toBe(1500);
    expect(standing.step(1_501_000, [zone(200, 200)], 10, 0).hotStandingS).toBe(0);
    standing.step(2_000_000, [zone(140, 200)], 0, 0);
    expect(standing.state.hotStandingS).toBe(0);
    // A line that sends neither screw nor strand speed never counts as still.
    standing.step(0, [zone(200, 200)], Number.NaN, Number.NaN);
    expect(standing.step(3_000_000, [zone(200, 200)], Number.NaN, Number.NaN).hotStandingS).toBe(0);
  });
});
