import { ROOM_C } from './healthy-zone.ts';

/**
 * How a zone responds to its power, learnt from its own heat-ups: first order with dead time, lags of the heater's mass and of
 * the sensor, and exchange with its neighbours.
 *
 *   lag · dg/dt = p(t − deadTime) − g,   secondLag · dh/dt = g − h
 *   dT/dt = rate · h − loss · (T − 20 °C) + exchange · Σ (Tneighbour − T) + warmth
 *
 * A step of power from rest reaches 63.2 % of its final change one time constant (1 / loss) after the dead time.
 */
export interface ThermalModel {
  /** Rise per unit of power, K/s. */
  readonly rateKPerS: number;
  /** Loss to the room, 1/s. */
  readonly lossPerS: number;
  /** Exchange with the neighbours, 1/s. */
  readonly exchangePerS: number;
  /** Effect of a room temperature other than 20 °C, K/s. */
  readonly warmthKPerS: number;
  readonly deadTimeS: number;
  /** Lag between power and heat, s. */
  readonly lagS: number;
  /** Lag between heat and reading, s. */
  readonly secondLagS: number;
  /** Possible error of dead time and lags together, s. */
  readonly delayOffS: number;
  /** By how much the neighbours were hotter while the zone held its set-point, summed, K. */
  readonly neighboursK: number;
  /** Root mean square of the residual for changes over 12 s, K. */
  readonly fitK: number;
  /** Number of heat-ups that it was learnt from. */
  readonly heatUps: number;
}

/** Rate of change at a temperature, K/s. */
export function slopeKPerS(model: ThermalModel, power: number, temperatureC: number, neighboursK: number): number {
  return (
    model.rateKPerS * power -
    model.lossPerS * (temperatureC - ROOM_C) +
    model.exchangePerS * neighboursK +
    model.warmthKPerS
  );
}

/** Whether a stored value is such a model, with values that a heated zone can have. */
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
