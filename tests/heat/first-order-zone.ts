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
  /** What the controller tells, 0…1. */
  readonly told: number;
  /** What the heater gets, 0…1. */
  readonly given: number;
}

/**
 * A zone that follows the equations of the model in steps of 0.1 s (Euler), from second 0 on. `heldBefore`: power that the
 * heater had got for long before.
 */
export function playZone(
  seconds: number,
  startC: number,
  heldBefore: number,
  at: (second: number) => Moment,
  take: (second: number, temperatureC: number, moment: Moment) => void,
): void {
  const given: number[] = [];
  let heater = heldBefore;
  let sensor = heldBefore;
  let temperatureC = startC;
  for (let i = 1; i <= seconds * 10; i++) {
    const moment = at(i / 10);
    given.push(moment.given);
    const power = given[given.length - 1 - 10 * MODEL.deadTimeS] ?? heldBefore;
    heater += (0.1 * (power - heater)) / MODEL.lagS;
    sensor += (0.1 * (heater - sensor)) / MODEL.secondLagS;
    temperatureC += 0.1 * (MODEL.rateKPerS * sensor - MODEL.lossPerS * (temperatureC - 20));
    take(i / 10, temperatureC, moment);
  }
}
