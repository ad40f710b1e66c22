import { ModelLearning } from './model-learning.ts';
import type { ThermalModel } from './thermal-model.ts';
import type { ZoneTrace } from './zone-trace.ts';

/** A heat-up from below this teaches, °C. */
const BEGINS_BELOW_C = 90;
const BEGINS_WITH_POWER = 0.3;
/** So long at its set-point ends what is new to it, s; a first conclusion is drawn earlier. */
const CONCLUDES_S = [45, 180] as const;

/** Follows a zone's heat-ups from cold to its set-point, and keeps the model that they teach. */
export class ZoneLearning {
  #model: ThermalModel | null = null;
  #before: ThermalModel | null = null;
  #learning: ModelLearning | null = null;
  #inBandS = 0;

  /** null = nothing learnt yet. */
  get model(): ThermalModel | null {
    return this.#model;
  }

  /** Goes on with what earlier evenings have taught; null forgets it. */
  take(model: ThermalModel | null): void {
    this.#model = model;
    this.#before = model;
    this.#learning = null;
  }

  /** Once a second while nothing is wrong with the zone. */
  second(trace: ZoneTrace, seconds: number, inBand: boolean): void {
    if (this.#learning === null) {
      if (!(trace.temperatureC < BEGINS_BELOW_C && trace.power > BEGINS_WITH_POWER)) return;
      this.#before = this.#model;
      this.#learning = new ModelLearning(this.#before);
      this.#inBandS = 0;
    }
    const learning = this.#learning;
    learning.look(trace);
    if (!inBand) return;
    const beforeS = this.#inBandS;
    this.#inBandS += seconds;
    if (!CONCLUDES_S.some((atS) => beforeS < atS && this.#inBandS >= atS)) return;
    this.#model = learning.conclude() ?? this.#model;
    if (this.#inBandS >= CONCLUDES_S[1]) this.#learning = null;
  }

  /** A fault, a gap, another set-point: what comes now teaches nothing. */
  breakOff(): void {
    this.#learning = null;
  }
}
