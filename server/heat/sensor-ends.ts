import { SENSOR_FAULT } from '../reading/names.ts';
import type { HeatLimits } from './zone-status.ts';
import type { ZoneTrace } from './zone-trace.ts';

/** No workshop is so cold, °C: an open thermistor reads far below (common practice, no source). */
const LOW_END_C = -20;
/** No barrel for filament is so hot, °C: a shorted thermistor reads far above (common practice, no source). */
const HIGH_END_C = 450;
/** An amplifier that says 0 on a broken wire: this cold within seconds of being hot is no temperature, °C. */
const DROPPED_TO_C = 5;
const HOT_C = 60;
/** No value for so long while other channels come, s. */
const NO_VALUE_S = 5;

export type SensorEnd = 'sensorOpen' | 'sensorShort' | null;

/**
 * An open or a shorted sensor: told by the firmware's fault bits, by a reading at either end of the scale, or by no value
 * while the line goes on. Must hold for two ticks in a row, as a single line may be garbled.
 */
export class SensorEnds {
  #last: SensorEnd = null;
  #confirmed: SensorEnd = null;
  #hotMs = Number.NEGATIVE_INFINITY;
  #droppedFromHot = false;
  #armedMs = Number.NaN;

  /** Once a tick. `wanted` = somebody heats this zone, so that it should have a sensor. */
  judge(trace: ZoneTrace, limits: HeatLimits, wanted: boolean, timeMs: number): SensorEnd {
    if (Number.isNaN(this.#armedMs)) this.#armedMs = timeMs;
    const now = this.#look(trace, limits, wanted, timeMs);
    if (now === this.#last) this.#confirmed = now;
    this.#last = now;
    return this.#confirmed;
  }

  #look(trace: ZoneTrace, limits: HeatLimits, wanted: boolean, timeMs: number): SensorEnd {
    if (trace.faultBits & SENSOR_FAULT.openCircuit) return 'sensorOpen';
    if (trace.faultBits & (SENSOR_FAULT.shortToGround | SENSOR_FAULT.shortToSupply)) return 'sensorShort';
    const sinceMs = !Number.isNaN(trace.lastValueMs) ? trace.lastValueMs : this.#armedMs;
    if (timeMs - sinceMs > NO_VALUE_S * 1000) return trace.everValue || wanted ? 'sensorOpen' : null;
    const value = trace.rawC;
    if (Number.isNaN(value)) return this.#last;
    if (value > Math.max(HIGH_END_C, limits.absoluteLimitC + 50)) return 'sensorShort';
    if (value < LOW_END_C) return 'sensorOpen';
    if (value > HOT_C) this.#hotMs = timeMs;
    this.#droppedFromHot = value < DROPPED_TO_C && (this.#droppedFromHot || timeMs - this.#hotMs < 3000);
    return this.#droppedFromHot ? 'sensorOpen' : null;
  }

  rearm(): void {
    this.#last = null;
    this.#confirmed = null;
    this.#hotMs = Number.NEGATIVE_INFINITY;
    this.#droppedFromHot = false;
    this.#armedMs = Number.NaN;
  }
}
