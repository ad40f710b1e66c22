import { HEATS_WITH } from './healthy-zone.ts';
import { ModelLearning } from './model-learning.ts';
import type { ThermalModel } from './thermal-model.ts';
import type { TraceView } from './zone-trace.ts';

/** Only a heat-up that starts below this is learnt from, °C. */
const STARTS_BELOW_C = 90;
/** Times at the set-point after which a model is calculated, s: a first one early, then the final one. */
const CONCLUDES_S = [45, 180] as const;

/** Follows a zone's heat-ups from cold to its set-point, and keeps the model learnt from them. */
export class ZoneLearning {
  #model: ThermalModel | null = null;
  #before: ThermalModel | null = null;
  #learning: ModelLearning | null = null;
  #inBandS = 0;

  /** null = nothing learnt yet. */
  get model(): ThermalModel | null {
    return this.#model;
  }

  /** Starts from a model learnt earlier; null forgets it. */
  setModel(model: ThermalModel | null): void {
    this.#model = model;
    this.#before = model;
    this.#learning = null;
  }

  /** Call once a second while the zone has no fault. */
  second(trace: TraceView, seconds: number, inBand: boolean): void {
    if (this.#learning === null) {
      if (!(trace.temperatureC < STARTS_BELOW_C && trace.power > HEATS_WITH)) return;
      this.#before = this.#model;
      this.#learning = new ModelLearning(this.#before);
      this.#inBandS = 0;
    }
    const learning = this.#learning;
    learning.add(trace);
    if (!inBand) return;
    const beforeS = this.#inBandS;
    this.#inBandS += seconds;
    if (!CONCLUDES_S.some((atS) => beforeS < atS && this.#inBandS >= atS)) return;
    this.#model = learning.conclude() ?? this.#model;
    if (this.#inBandS >= CONCLUDES_S[1]) this.#learning = null;
  }

  /** Abandons this heat-up: after a fault or a gap nothing can be learnt from it. */
  abandon(): void {
    this.#learning = null;
  }
}
