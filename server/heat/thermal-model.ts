import { ROOM_C } from './healthy-zone.ts';

/**
 * What a zone does with its power, as its own heat-ups have shown it: first order with dead time, the lags of the heater's
 * own mass and of the sensor, and what its neighbours bring.
 *
 *   lag · dg/dt = p(t − deadTime) − g,   secondLag · dh/dt = g − h
 *   dT/dt = rate · h − loss · (T − 20 °C) + exchange · Σ (Tneighbour − T) + warmth
 *
 * A step of power from rest reaches 63.2 % of its final change one time constant (1 / loss) after the dead time.
 */
export interface ThermalModel {
  /** Rise for each unit of power, K/s. */
  readonly rateKPerS: number;
  /** 1/s. */
  readonly lossPerS: number;
  /** 1/s for each kelvin that the neighbours are hotter, summed. */
  readonly exchangePerS: number;
  /** What a room other than 20 °C brings or takes, K/s. */
  readonly warmthKPerS: number;
  /** s. */
  readonly deadTimeS: number;
  /** Lag between power and heat, s. */
  readonly lagS: number;
  /** Lag between heat and reading, s. */
  readonly secondLagS: number;
  /** How far dead time and lags together may be off, s. */
  readonly delayOffS: number;
  /** How much hotter the neighbours were when it held its set-point, summed, K. */
  readonly neighboursK: number;
  /** What the model leaves unexplained of a change over 12 s, root mean square, K. */
  readonly fitK: number;
  /** Heat-ups that it was learnt from. */
  readonly heatUps: number;
}

/** Change of a zone at a temperature, K/s. */
export function slopeKPerS(model: ThermalModel, power: number, temperatureC: number, neighboursK: number): number {
  return (
    model.rateKPerS * power -
    model.lossPerS * (temperatureC - ROOM_C) +
    model.exchangePerS * neighboursK +
    model.warmthKPerS
  );
}

/** Whether something kept is such a model, with values that a heated zone can have. */
export function isThermalModel(value: unknown): value is ThermalModel {
  if (typeof value !== 'object' || value === null) return false;
  const model = value as Record<keyof ThermalModel, unknown>;
  const within = (name: keyof ThermalModel, low: number, high: number): boolean => {
    const number = model[name];
    return typeof number === 'number' && number >= low && number <= high;
  };
  return (
    within('rateKPerS', 0.05, 10) &&
    within('lossPerS', 0, 0.1) &&
    within('exchangePerS', 0, 0.1) &&
    within('warmthKPerS', -1, 1) &&
    within('deadTimeS', 0, 60) &&
    within('lagS', 0, 60) &&
    within('secondLagS', 0, 60) &&
    within('delayOffS', 0, 60) &&
    within('neighboursK', -1000, 1000) &&
    within('fitK', 0, 20) &&
    within('heatUps', 1, 1e6)
  );
}
