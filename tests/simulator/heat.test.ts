import { describe, expect, it } from 'vitest';
import { createSimulation, type TruthEvent } from '../../simulator/index.ts';
import { STANDARD_PLANT } from '../../simulator/model/plant.ts';
import { steadyPower, Zone } from '../../simulator/model/zone.ts';
import { casesOf, IS_LONG_CHECK } from '../long-check.ts';
import { eventOf, readingsOf, stepsOf } from './readings.ts';

/** Time at which a step response from `startC` to `endC` first reaches a share of its total change, s. */
function timeOfShare(trace: readonly number[], startC: number, endC: number, share: number, stepS: number): number {
  return trace.findIndex((value) => value >= startC + share * (endC - startC)) * stepS;
}

const [ZONE_1, ZONE_2, ZONE_3] = STANDARD_PLANT.zones;
if (ZONE_1 === undefined || ZONE_2 === undefined || ZONE_3 === undefined) throw new Error('The plant has three zones.');

describe('a heated zone', () => {
  it.each(STANDARD_PLANT.zones)(
    'responds to a step of power as first order with dead time (τ $timeConstantS s)',
    (plant) => {
      const zone = new Zone(plant, 20, 20, 0);
      const trace: number[] = [];
      for (let i = 0; i < 30_000; i++) {
        trace.push(zone.temperatureC);
        zone.step(0.4, []);
      }
      const endC = zone.temperatureC;
      expect(endC - 20).toBeCloseTo(0.4 * plant.gainK, 1);
      // Definition of the time constant, as Control Guru states it (http://www.controlguru.com/wp/p50.html): 63 % of the
      // total change, counted from the first response.
      const t632 = timeOfShare(trace, 20, endC, 1 - Math.exp(-1), 0.1);
      expect(Math.abs(t632 - (plant.deadTimeS + plant.timeConstantS))).toBeLessThan(1);
      // Two-point method (Smith and Corripio, from memory): τ = 1.5 (t63.2 − t28.3), θ = t63.2 − τ.
      const t283 = timeOfShare(trace, 20, endC, 1 - Math.exp(-1 / 3), 0.1);
      const timeConstantS = 1.5 * (t632 - t283);
      expect(Math.abs(timeConstantS - plant.timeConstantS)).toBeLessThan(1);
      expect(Math.abs(t632 - timeConstantS - plant.deadTimeS)).toBeLessThan(1);
    },
  );

  it('keeps its temperature at its steady power, even between neighbours', () => {
    const power = steadyPower(ZONE_2, 21, 190, [175, 195]);
    const zone = new Zone(ZONE_2, 21, 190, power);
    for (let i = 0; i < 20_000; i++) zone.step(power, [175, 195]);
    expect(zone.temperatureC).toBeCloseTo(190, 6);
  });

  it('opens its cut-out when its heater cannot be switched off', () => {
    const zone = new Zone(ZONE_3, 21, 195, 0.4);
    let hottestC = 0;
    for (let i = 0; i < 40_000; i++) {
      zone.step(1, []);
      hottestC = Math.max(hottestC, zone.temperatureC);
    }
    expect(hottestC).toBeGreaterThan(320);
    expect(hottestC).toBeLessThan(335);
  });
});

describe('a heat-up from cold', () => {
  it.each(casesOf([1, 2, 3], 1))(
    'rises at a usual rate, overshoots little and then keeps its temperature (seed %i)',
    (seed) => {
      const simulation = createSimulation({ scenario: 'whole-run', seed, rateHz: 1 });
      const readings = readingsOf(simulation.advanceTo(1500));
      for (const [zone, setPointC] of [
        [1, 175],
        [2, 190],
        [3, 195],
      ] as const) {
        const trace = readings.map((reading) => reading[`t${zone}`]);
        expect(trace[0]).toBeLessThan(30);
        // Common practice, no source: 0.3–1.5 K/s at full power, 0.15–0.5 of full power to hold.
        const at = (timeS: number) => readings.find(({ ms }) => ms >= timeS * 1000)?.[`t${zone}`] ?? Number.NaN;
        const rise = (at(60) - at(30)) / 30;
        expect(rise).toBeGreaterThan(0.3);
        expect(rise).toBeLessThan(2);
        expect(Math.max(...trace)).toBeLessThan(setPointC + 4);
        const held = readings.filter(({ ms }) => ms >= 900_000);
        expect(held.every((reading) => Math.abs(reading[`t${zone}`] - setPointC) < 1)).toBe(true);
        const power = held.at(-1)?.[`p${zone}`];
        expect(power).toBeGreaterThan(0.15);
        expect(power).toBeLessThan(0.5);
      }
      expect(new Set(readings.map((reading) => reading.d)).size).toBeLessThan(10);
    },
  );

  it.skipIf(!IS_LONG_CHECK)('cools to room temperature after the heat is switched off', () => {
    const simulation = createSimulation({ scenario: 'whole-run', rateHz: 1 });
    const last = readingsOf(simulation.advanceTo(5400)).at(-1);
    expect(last).toMatchObject({ s1: 0, p1: 0, rpm: 0, v: 0 });
    expect(last?.t1).toBeLessThan(30);
    expect(simulation.truth().at(-1)?.kind).toBe('stopped');
  });
});

describe('a heat fault', () => {
  /** Readings around a fault at 180 s, by the time since then in seconds. */
  function play(scenario: string) {
    const simulation = createSimulation({ scenario, rateHz: 2, seed: 2 });
    const readings = readingsOf(simulation.advanceTo(480));
    return {
      simulation,
      at: (afterS: number) => readings.find((reading) => reading.ms >= (180 + afterS) * 1000),
      between: (fromS: number, toS: number) =>
        readings.filter((reading) => reading.ms >= (180 + fromS) * 1000 && reading.ms < (180 + toS) * 1000),
      event: (kind: TruthEvent['kind']) => eventOf(simulation.truth(), kind),
    };
  }

  it('power lost: the temperature falls while the power rises to full', () => {
    const run = play('heater-lost');
    expect(run.at(-5)?.t2).toBeCloseTo(190, 0);
    expect(run.at(60)?.t2).toBeLessThan(165);
    expect(run.at(60)?.p2).toBe(1);
    expect(run.event('power-lost')).toMatchObject({ fromS: 180, toS: 420, zone: 2, peakMm: null });
  });

  it('power lost from cold: full power, but only the neighbour warms the zone', () => {
    const run = play('heater-dead-from-cold');
    expect(run.at(100)?.p3).toBe(1);
    expect(run.at(100)?.t3).toBeLessThan(60);
    expect(run.at(100)?.t2).toBeGreaterThan(150);
    expect(run.event('power-lost')).toMatchObject({ fromS: 0, toS: null, zone: 3 });
  });

  it('sensor open: the cold end of the scale, fault bit 1, heater off', () => {
    const run = play('sensor-open');
    for (const reading of run.between(1, 119)) expect(reading).toMatchObject({ t3: -55, f3: 1, p3: 0 });
    expect(run.at(121)?.f3).toBe(0);
    expect(run.event('sensor-open')).toMatchObject({ fromS: 180, toS: 300, zone: 3 });
  });

  it('sensor short: the hot end of the scale, fault bit 2, heater off', () => {
    const run = play('sensor-short');
    for (const reading of run.between(1, 119)) expect(reading).toMatchObject({ t1: 450, f1: 2, p1: 0 });
    expect(run.event('sensor-short')).toMatchObject({ fromS: 180, toS: 300, zone: 1 });
  });

  it('sensor slipped: the reading falls, the power and the true temperature rise', () => {
    const run = play('sensor-slipped');
    expect(run.at(60)?.t2).toBeLessThan(120);
    expect(run.at(60)?.p2).toBe(1);
    expect(run.at(60)?.f2).toBe(0);
    expect(run.simulation.line.barrel.zone(2).body.temperatureC).toBeGreaterThan(250);
    expect(run.event('sensor-slipped')).toMatchObject({ fromS: 180, zone: 2 });
  });

  it('switch stuck: the temperature rises at no power', () => {
    const run = play('switch-stuck');
    expect(run.at(60)?.t3).toBeGreaterThan(225);
    expect(run.at(60)?.p3).toBe(0);
    expect(run.event('switch-stuck')).toMatchObject({ fromS: 180, toS: 420, zone: 3 });
  });

  it('frozen reading: exactly the same value for minutes, and changing values before', () => {
    const run = play('sensor-frozen');
    expect(new Set(run.between(1, 300).map((reading) => reading.t1)).size).toBe(1);
    expect(new Set(run.between(-60, 0).map((reading) => reading.t1)).size).toBeGreaterThan(2);
    expect(run.event('frozen-reading').zone).toBe(1);
  });

  it('loose sensor: jumps that are too fast for a barrel', () => {
    const run = play('sensor-loose');
    const trace = run.between(0, 240).map((reading) => reading.t3);
    const jumps = stepsOf(trace).filter((step) => Math.abs(step) > 10).length;
    expect(jumps).toBeGreaterThan(20);
    expect(run.event('loose-sensor')).toMatchObject({ fromS: 180, toS: 420, zone: 3 });
  });

  it('a draught or a new set-point is not a fault: the zone recovers, or follows', () => {
    const evening = createSimulation({ scenario: 'evening', rateHz: 2 });
    const readings = readingsOf(evening.advanceTo(600));
    const { fromS, toS } = eventOf(evening.truth(), 'zone-disturbance');
    const during = readings.filter((r) => r.ms > fromS * 1000 && r.ms < ((toS ?? 0) + 30) * 1000);
    expect(Math.min(...during.map((reading) => reading.t3))).toBeLessThan(194);
    expect(Math.min(...during.map((reading) => reading.t3))).toBeGreaterThan(190);
    expect(readings.at(-1)?.t3).toBeCloseTo(195, 0);

    const moved = createSimulation({ scenario: 'set-point-changes', rateHz: 1 });
    const last = readingsOf(moved.advanceTo(1800)).at(-1);
    for (const [zone, setPointC] of [
      [1, 165],
      [2, 200],
      [3, 190],
    ] as const) {
      expect(last?.[`s${zone}`]).toBe(setPointC);
      expect(last?.[`t${zone}`]).toBeGreaterThan(setPointC - 1);
      expect(last?.[`t${zone}`]).toBeLessThan(setPointC + 1);
    }
  });
});
