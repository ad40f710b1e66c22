/**
 * Hopper and screw: how much polymer the screw conveys.
 *
 *   Q = rpm / 60 · V_turn · (1 + fill) · (1 + a · sin 2πN)
 *
 * V_turn is the volume per turn, N the turns so far (surging follows the turns of the screw; common practice, no source)
 * and fill the slow random change of the hopper's flow. A bridging hopper adds swings of 10–120 s.
 */

import type { Plant } from './plant.ts';
import { Random, Wander } from './random.ts';
import { SLOW_STEP_S, STRAND_STEP_S } from './steps.ts';

const WANDER_CORRELATION_S = 12;
const RPM_LAG_S = 0.8;
/** Additional roughness of the feed just after the screw has started, as a factor. */
const UNSETTLED_FACTOR = 7;

export class Feed {
  /** Set screw speed, 1/min. */
  rpmTarget = 0;
  rpm = 0;
  turns = 0;
  bridging = false;
  /** 1 just after the screw has started, then falling to 0. */
  unsettled = 0;
  settleS = 20;
  readonly #plant: Plant;
  readonly #wander: Wander;
  readonly #swings: Swings;
  #fill = 0;

  constructor(plant: Plant, seed: number) {
    this.#plant = plant;
    this.#wander = new Wander(Random.stream(seed, 'feed'), WANDER_CORRELATION_S, SLOW_STEP_S);
    this.#swings = new Swings(Random.stream(seed, 'bridging'));
  }

  slowStep(): void {
    this.unsettled *= 1 - SLOW_STEP_S / this.settleS;
    const roughness = 1 + UNSETTLED_FACTOR * this.unsettled;
    this.#fill = this.#plant.feedWanderShare * roughness * this.#wander.step() + this.#swings.step(this.bridging);
    this.rpm += ((this.rpmTarget - this.rpm) * SLOW_STEP_S) / RPM_LAG_S;
    if (this.rpmTarget === 0 && this.rpm < 0.05) this.rpm = 0;
  }

  /** One strand step: the flow into the melt, mm³/s. */
  step(): number {
    this.turns += (this.rpm * STRAND_STEP_S) / 60;
    const surge = 1 + this.#plant.surgeShare * Math.sin(2 * Math.PI * this.turns);
    return (this.rpm / 60) * this.#plant.flowPerTurnMm3 * (1 + this.#fill) * surge;
  }
}

/** A bridge starves the screw, then breaks and floods it: successive smooth swings of random length and depth. */
class Swings {
  readonly #random: Random;
  #lengthS = 0;
  #passedS = 0;
  #depth = 0;
  #starving = false;

  constructor(random: Random) {
    this.#random = random;
  }

  step(bridging: boolean): number {
    this.#passedS += SLOW_STEP_S;
    if (this.#passedS >= this.#lengthS) {
      this.#passedS = 0;
      if (!bridging) {
        this.#lengthS = 0;
        this.#depth = 0;
        return 0;
      }
      this.#starving = !this.#starving;
      this.#lengthS = this.#random.between(10, 120) / 2;
      this.#depth = this.#starving ? -this.#random.between(0.06, 0.16) : this.#random.between(0.03, 0.1);
    }
    return (this.#depth * (1 - Math.cos((2 * Math.PI * this.#passedS) / this.#lengthS))) / 2;
  }
}
