import { type Meddling, type Plant, STEP_S } from './plant.ts';
import { GREATEST_LOAD, type PlantLine } from './scatter.ts';

/** Most heat that normal operation may add, as a share of full power at 200 °C: the limit of what the line was learnt with. */
const GREATEST_RELIEF = -0.1;
/** Beyond this many standard deviations of one reading, a difference is not noise. */
const SIGMAS = 4;
/** Too unlikely to be chance among the million readings of a night: a noisy sensor does not repeat itself that often. */
const IMPOSSIBLE = 1e-9;

/** A difference up to this can be noise and the sensor's step, K. */
function floorKOf({ noiseK, wanderK, resolutionK }: PlantLine): number {
  return SIGMAS * Math.hypot(noiseK, wanderK, grainKOf(resolutionK) / Math.sqrt(12));
}

function grainKOf(resolutionK: number): number {
  return resolutionK || 0.01;
}

/** A sensor whose true value is in the middle of a step cannot repeat itself by chance for longer than this, s. */
function longestStillS({ noiseK, resolutionK, readingsPerS }: PlantLine): number {
  const same = erf(grainKOf(resolutionK) / 2 / (Math.SQRT2 * Math.max(noiseK, 1e-9)));
  return same > 0.95 ? Number.POSITIVE_INFINITY : Math.log(IMPOSSIBLE) / Math.log(same) / readingsPerS;
}

/**
 * When a fault can be seen at all. Four noiseless copies of the plant run on from the moment of the fault: without it, with it,
 * and without it but with the greatest load, or the greatest relief, of normal operation. The fault can be seen once the
 * temperature at the sensor differs from that without the fault by more than normal operation could explain, plus 4
 * standard deviations of one reading (its steps included).
 */
export class Sight {
  readonly #without: Plant;
  readonly #with: Plant;
  readonly #normal: readonly Plant[];
  readonly #zone: number;
  readonly #floorK: number;
  readonly #frozenC: number | null;
  readonly #stillS: number;
  #sinceS = 0;
  #normalK = 0;
  seen = false;

  /** @param zone from 0 */
  constructor(plant: Plant, zone: number, meddling: Meddling) {
    this.#zone = zone;
    this.#without = plant.noiseless();
    this.#with = plant.noiseless();
    this.#with.meddling[zone] = { ...this.#with.meddling[zone], ...meddling };
    this.#normal = [GREATEST_LOAD, GREATEST_RELIEF].map((load) => {
      const twin = plant.noiseless();
      twin.meddling[zone] = { ...twin.meddling[zone], suddenLoad: load };
      return twin;
    });
    this.#floorK = floorKOf(plant.line);
    this.#frozenC = meddling.frozen ? plant.saidC(zone) : null;
    this.#stillS = longestStillS(plant.line);
  }

  /** One step of all twins. */
  step(): void {
    if (this.seen) return;
    const i = this.#zone;
    this.#sinceS += STEP_S;
    this.#without.step();
    this.#with.step();
    const healthyC = this.#without.sensorC(i);
    for (const twin of this.#normal) {
      twin.step();
      this.#normalK = Math.max(this.#normalK, Math.abs(twin.sensorC(i) - healthyC));
    }
    const threshold = this.#normalK + this.#floorK;
    if (this.#frozenC !== null) {
      // The reading is frozen, and the true temperature has moved away from it.
      this.seen = this.#sinceS > this.#stillS || Math.abs(this.#with.sensorC(i) - this.#frozenC) > threshold;
    } else this.seen = Math.abs(this.#with.sensorC(i) - healthyC) > threshold;
  }
}

/**
 * When an observer who knows the plant exactly could recognise a fault. The observer sees the switching of the heater and the
 * reading, but not the temperature at a sensor whose fault hides it. A load that starts with the fault, of any size that is
 * normal, may explain what is seen. The fault is recognised once no such load does, or once the reading has been still for too
 * long to be chance. Loads that come and go make it later; means over many readings would make it slightly earlier.
 */
export class BestSight {
  readonly #with: Plant;
  /** Healthy copies with the same switching as the faulty one: without a load, and with the greatest. */
  readonly #healthy: Plant;
  readonly #loaded: Plant;
  readonly #zone: number;
  /** null = the reading is not frozen. */
  readonly #frozenC: number | null;
  readonly #floorK: number;
  readonly #stillS: number;
  #sinceS = 0;
  #leastLoad = GREATEST_RELIEF;
  #mostLoad = GREATEST_LOAD;
  seen = false;

  /** @param zone from 0 */
  constructor(plant: Plant, zone: number, meddling: Meddling) {
    this.#zone = zone;
    this.#frozenC = meddling.frozen ? plant.saidC(zone) : null;
    this.#floorK = floorKOf(plant.line);
    this.#stillS = meddling.frozen ? longestStillS(plant.line) : Number.POSITIVE_INFINITY;
    [this.#with, this.#healthy, this.#loaded] = [meddling, {}, { suddenLoad: GREATEST_LOAD }].map((more) => {
      const twin = plant.noiseless();
      twin.meddling[zone] = { ...twin.meddling[zone], ...more };
      return twin;
    }) as [Plant, Plant, Plant];
  }

  step(): void {
    if (this.seen) return;
    const i = this.#zone;
    this.#sinceS += STEP_S;
    const driven = this.#with.drive(i);
    this.#with.step();
    for (const twin of [this.#healthy, this.#loaded]) {
      twin.meddling[i] = { ...twin.meddling[i], driven };
      twin.step();
    }
    const expectedC = this.#healthy.sensorC(i);
    const saidC = this.#frozenC ?? this.#with.sensorC(i);
    // What a load of one would take, K.
    const takesK = (expectedC - this.#loaded.sensorC(i)) / GREATEST_LOAD;
    if (takesK > 0.01) {
      this.#leastLoad = Math.max(this.#leastLoad, (expectedC - saidC - this.#floorK) / takesK);
      this.#mostLoad = Math.min(this.#mostLoad, (expectedC - saidC + this.#floorK) / takesK);
    }
    const unexplained = takesK <= 0.01 && Math.abs(expectedC - saidC) > this.#floorK;
    this.seen = unexplained || this.#sinceS > this.#stillS || this.#leastLoad > this.#mostLoad;
  }
}

/** Abramowitz & Stegun 7.1.26, error below 1.5e-7 (from memory). */
function erf(x: number): number {
  const t = 1 / (1 + 0.3275911 * x);
  const sum = ((((1.061405429 * t - 1.453152027) * t + 1.421413741) * t - 0.284496736) * t + 0.254829592) * t;
  return 1 - sum * Math.exp(-x * x);
}
