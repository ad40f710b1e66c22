/**
 * A heated zone: first order with dead time, with heat loss to the room and exchange with its neighbours.
 *
 *   τ · dT/dt = K · p(t − θ) − (T − T_room) − c · Σ (T − T_neighbour)
 *
 * with p the heater's share of full power (0…1), K the gain in kelvin and θ the dead time. Without neighbours (c = 0), a
 * step of p from rest reaches 63.2 % of K·p at θ + τ.
 */

import type { ZonePlant } from './plant.ts';
import { SLOW_STEP_S } from './steps.ts';

/** The over-temperature cut-out of the barrel opens here and closes again 40 K lower. */
const CUT_OUT_C = 320;
const CUT_OUT_RETURN_C = 280;

export class Zone {
  temperatureC: number;
  /** Additional loss to the room by a draught, as a share of the usual loss. */
  draught = 0;
  cutOutOpen = false;
  readonly #plant: ZonePlant;
  readonly #roomC: number;
  readonly #power: Float64Array;
  #head = 0;

  /** @param powerBefore share of full power before the start, so that a warm zone starts in balance */
  constructor(plant: ZonePlant, roomC: number, startC: number, powerBefore: number) {
    this.#plant = plant;
    this.#roomC = roomC;
    this.temperatureC = startC;
    this.#power = new Float64Array(Math.max(1, Math.round(plant.deadTimeS / SLOW_STEP_S))).fill(powerBefore);
  }

  /** One slow step with the heater's real power. The neighbours' temperatures are those before the step. */
  step(power: number, neighboursC: readonly number[]): void {
    if (this.temperatureC > CUT_OUT_C) this.cutOutOpen = true;
    else if (this.temperatureC < CUT_OUT_RETURN_C) this.cutOutOpen = false;

    const delayed = this.#power[this.#head]!;
    this.#power[this.#head] = this.cutOutOpen ? 0 : power;
    this.#head = (this.#head + 1) % this.#power.length;

    let exchange = 0;
    for (const neighbourC of neighboursC) exchange += neighbourC - this.temperatureC;
    const lossK = (this.temperatureC - this.#roomC) * (1 + this.draught);
    const slope = this.#plant.gainK * delayed - lossK + this.#plant.coupling * exchange;
    this.temperatureC += (slope * SLOW_STEP_S) / this.#plant.timeConstantS;
  }
}

/** The share of full power that keeps a zone at a temperature. */
export function steadyPower(plant: ZonePlant, roomC: number, atC: number, neighboursC: readonly number[]): number {
  let exchange = 0;
  for (const neighbourC of neighboursC) exchange += neighbourC - atC;
  const power = (atC - roomC - plant.coupling * exchange) / plant.gainK;
  return Math.min(1, Math.max(0, power));
}
