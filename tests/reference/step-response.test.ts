import { describe, expect, test } from 'vitest';
import { ModelLearning } from '../../server/heat/model-learning.ts';
import { slopeKPerS, type ThermalModel } from '../../server/heat/thermal-model.ts';
import { ZoneTrace } from '../../server/heat/zone-trace.ts';

/**
 * Step responses of first order with dead time. Two-point method (Smith; Smith & Corripio, "Principles and Practice of
 * Automatic Process Control", from memory): τ = 1.5 (t63.2 − t28.3), θ = t63.2 − τ. The 63.2 % method (Control Guru, "Heat
 * exchanger" case: time constant = time to 63 % of the change less the time of the first clear response). Worked example:
 * K = 2, τ = 60 s, θ = 15 s gives t28.3 = 35 s and t63.2 = 75 s.
 */

const TAU_S = 60;
const DEAD_S = 15;
const GAIN_K = 120;
const ROOM_C = 20;

/** The model learnt from a heat-up that follows the closed form. */
function learnt(): ThermalModel {
  const trace = new ZoneTrace();
  const learning = new ModelLearning(null);
  for (let s = 0; s < 600; s++) {
    const heatedS = s - 60;
    const risenK = heatedS < DEAD_S ? 0 : GAIN_K * (1 - Math.exp(-(heatedS - DEAD_S) / TAU_S));
    trace.add(s * 1000, ROOM_C + risenK, 150, heatedS >= 0 ? 1 : 0, 0);
    trace.closeTick();
    trace.closeSecond(1, 0);
    learning.add(trace);
  }
  const model = learning.conclude();
  if (model === null) throw new Error('nothing learnt');
  return model;
}

/** Time at which the model's response to a step of power passes a share of its final change, s. */
function passes(model: ThermalModel, share: number): number {
  const finalK = model.rateKPerS / model.lossPerS;
  let riseK = 0;
  let heat = 0;
  let lagged = 0;
  for (let s = 0; s < 2000; s += 0.05) {
    const power = s >= model.deadTimeS ? 1 : 0;
    heat = model.lagS === 0 ? power : heat + ((power - heat) * 0.05) / model.lagS;
    lagged = model.secondLagS === 0 ? heat : lagged + ((heat - lagged) * 0.05) / model.secondLagS;
    riseK += 0.05 * (slopeKPerS(model, lagged, ROOM_C + riseK, 0) - model.warmthKPerS);
    if (riseK >= share * finalK) return s;
  }
  return Number.NaN;
}

describe('a model learnt from a heat-up agrees with the step-response methods', () => {
  const model = learnt();

  test('63.2 % of the change one time constant after the dead time: 75 s', () => {
    expect(passes(model, 0.632121)).toBeGreaterThan(72);
    expect(passes(model, 0.632121)).toBeLessThan(78);
    expect(1 / model.lossPerS).toBeGreaterThan(0.95 * TAU_S);
    expect(1 / model.lossPerS).toBeLessThan(1.05 * TAU_S);
  });

  test('the two-point method on its response gives τ = 60 s and θ = 15 s', () => {
    const t28 = passes(model, 0.283469);
    const t63 = passes(model, 0.632121);
    const tauS = 1.5 * (t63 - t28);
    expect(t28).toBeCloseTo(35, -0.7);
    expect(Math.abs(tauS - TAU_S)).toBeLessThan(4);
    expect(Math.abs(t63 - tauS - DEAD_S)).toBeLessThan(4);
  });

  test('its gain is the final change per unit of power', () => {
    expect(model.rateKPerS / model.lossPerS).toBeGreaterThan(0.97 * GAIN_K);
    expect(model.rateKPerS / model.lossPerS).toBeLessThan(1.03 * GAIN_K);
  });
});
