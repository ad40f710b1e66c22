/** A thermistor in its well, with a small lag, noise, a resolution of 0.1 K, and its faults. */

import { SENSOR_FAULT } from '../../server/reading/names.ts';
import type { Random } from './random.ts';
import { SLOW_STEP_S } from './steps.ts';

export type SensorFault = 'sensor-open' | 'sensor-short' | 'sensor-slipped' | 'frozen-reading' | 'loose-sensor';

const LAG_S = 2;
/** A sensor that has slipped out measures the warm air next to the barrel, and cools slowly. */
const SLIPPED_LAG_S = 18;
const SLIPPED_SHARE = 0.3;
const NOISE_K = 0.08;
/** An open thermistor reads the cold end of the scale, a shorted one the hot end. */
const SCALE_COLD_C = -55;
const SCALE_HOT_C = 450;

export class TemperatureSensor {
  fault: SensorFault | null = null;
  readingC: number;
  /** Fault bits as in the fields `f1`…`f8` of the contract. */
  faultBits = 0;
  #sensorC: number;
  #jumpC = 0;
  #jumpLeftS = 0;
  readonly #random: Random;

  constructor(startC: number, random: Random) {
    this.#sensorC = startC;
    this.readingC = startC;
    this.#random = random;
  }

  step(trueC: number, roomC: number): void {
    const noiseK = NOISE_K * this.#random.gaussian();
    const slipped = this.fault === 'sensor-slipped';
    const aroundC = slipped ? roomC + SLIPPED_SHARE * (trueC - roomC) : trueC;
    this.#sensorC += ((aroundC - this.#sensorC) * SLOW_STEP_S) / (slipped ? SLIPPED_LAG_S : LAG_S);
    this.faultBits = 0;
    switch (this.fault) {
      case 'frozen-reading':
        return;
      case 'sensor-open':
        this.faultBits = SENSOR_FAULT.openCircuit;
        this.readingC = SCALE_COLD_C;
        return;
      case 'sensor-short':
        this.faultBits = SENSOR_FAULT.shortToGround;
        this.readingC = SCALE_HOT_C;
        return;
      case 'loose-sensor':
        this.#shake();
        break;
      default:
        this.#jumpC = 0;
    }
    this.readingC = this.#sensorC + noiseK + this.#jumpC;
  }

  /** A bad contact adds resistance: short drops of some tens of kelvin, several a minute. */
  #shake(): void {
    this.#jumpLeftS -= SLOW_STEP_S;
    if (this.#jumpLeftS > 0) return;
    if (this.#jumpC !== 0) {
      this.#jumpC = 0;
      this.#jumpLeftS = this.#random.exponential(4);
    } else {
      this.#jumpC = -this.#random.between(15, 70);
      this.#jumpLeftS = this.#random.between(0.1, 1.2);
    }
  }
}
