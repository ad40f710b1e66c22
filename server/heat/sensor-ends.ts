import { SENSOR_FAULT } from '../reading/names.ts';
import type { HeatLimits } from './zone-status.ts';
import type { TraceView } from './zone-trace.ts';

/** Colder than any workshop, °C: an open thermistor reads far below (common practice, no source). */
const LOW_END_C = -20;
/** Hotter than any filament barrel, °C: a shorted thermistor reads far above (common practice, no source). */
const HIGH_END_C = 450;
/** Some amplifiers report 0 on a broken wire: a reading below this, seconds after the zone was hot, is not a temperature, °C. */
const DROPPED_TO_C = 5;
const HOT_C = 60;
/** Time without a value while other signals arrive, s. */
const NO_VALUE_S = 5;

export type SensorEnd = 'sensorOpen' | 'sensorShort' | null;

/**
 * An open or shorted sensor, recognised by the firmware's fault bits, a reading at either end of the scale, or a missing
 * value while the line keeps sending. It must hold for two consecutive ticks, as a single line may be garbled.
 */
export class SensorEnds {
  #last: SensorEnd = null;
  #confirmed: SensorEnd = null;
  #hotMs = Number.NEGATIVE_INFINITY;
  #droppedFromHot = false;
  #startMs = Number.NaN;

  /** Call once a tick. `wanted` = this zone is being heated, so it should have a sensor. */
  check(trace: TraceView, limits: HeatLimits, wanted: boolean, timeMs: number): SensorEnd {
    if (Number.isNaN(this.#startMs)) this.#startMs = timeMs;
    const now = this.#look(trace, limits, wanted, timeMs);
    if (now === this.#last) this.#confirmed = now;
    this.#last = now;
    return this.#confirmed;
  }

  #look(trace: TraceView, limits: HeatLimits, wanted: boolean, timeMs: number): SensorEnd {
    if (trace.faultBits & SENSOR_FAULT.openCircuit) return 'sensorOpen';
    if (trace.faultBits & (SENSOR_FAULT.shortToGround | SENSOR_FAULT.shortToSupply)) return 'sensorShort';
    const sinceMs = !Number.isNaN(trace.lastValueMs) ? trace.lastValueMs : this.#startMs;
    if (timeMs - sinceMs > NO_VALUE_S * 1000) return trace.everValue || wanted ? 'sensorOpen' : null;
    const value = trace.rawC;
    if (Number.isNaN(value)) return this.#last;
    if (value > Math.max(HIGH_END_C, limits.absoluteLimitC + 50)) return 'sensorShort';
    if (value < LOW_END_C) return 'sensorOpen';
    if (value > HOT_C) this.#hotMs = timeMs;
    this.#droppedFromHot = value < DROPPED_TO_C && (this.#droppedFromHot || timeMs - this.#hotMs < 3000);
    return this.#droppedFromHot ? 'sensorOpen' : null;
  }

  reset(): void {
    this.#last = null;
    this.#confirmed = null;
    this.#hotMs = Number.NEGATIVE_INFINITY;
    this.#droppedFromHot = false;
    this.#startMs = Number.NaN;
  }
}
