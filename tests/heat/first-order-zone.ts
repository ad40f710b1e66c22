import type { ThermalModel } from '../../server/heat/thermal-model.ts';

/** A zone of 1 K/s with a heavy heater. */
export const MODEL: ThermalModel = {
  rateKPerS: 1,
  lossPerS: 0.002,
  exchangePerS: 0,
  warmthKPerS: 0,
  deadTimeS: 5,
  lagS: 25,
  secondLagS: 5,
  delayOffS: 1,
  neighboursK: 0,
  fitK: 0.1,
  heatUps: 1,
};

export interface Moment {
  /** Power that the controller reports, 0…1. */
  readonly sent: number;
  /** Power that the heater gets, 0…1. */
  readonly applied: number;
}

/**
 * Simulates a zone by the equations of the model in steps of 0.1 s (Euler), from second 0 on. `storedBefore`: the steady power
 * that the heater had before.
 */
export function playZone(
  seconds: number,
  startC: number,
  storedBefore: number,
  at: (second: number) => Moment,
  take: (second: number, temperatureC: number, moment: Moment) => void,
  model = MODEL,
): void {
  const applied: number[] = [];
  let heater = storedBefore;
  let sensor = storedBefore;
  let temperatureC = startC;
  for (let i = 1; i <= seconds * 10; i++) {
    const moment = at(i / 10);
    applied.push(moment.applied);
    const power = applied[applied.length - 1 - 10 * model.deadTimeS] ?? storedBefore;
    heater += (0.1 * (power - heater)) / model.lagS;
    sensor += (0.1 * (heater - sensor)) / model.secondLagS;
    temperatureC += 0.1 * (model.rateKPerS * sensor - model.lossPerS * (temperatureC - 20));
    take(i / 10, temperatureC, moment);
  }
}
