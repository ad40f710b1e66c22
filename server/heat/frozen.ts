import { COLD_BELOW_C, HEATS_WITH, LONGEST_DEAD_TIME_S, ROOM_C } from './healthy-zone.ts';
import type { SlowRule, ZoneSituation } from './heat-rule.ts';
import { LaggedPower } from './lagged-power.ts';
import { LongStillness } from './long-stillness.ts';
import { isUnresponsive } from './unresponsive-reading.ts';
import type { TraceView } from './zone-trace.ts';

/** Shorter still stretches are ignored, s. */
const LEAST_STILL_S = 8;
/**
 * For a sensor whose noise spans several of its steps: how many of its usual change intervals without a change are not chance.
 * The lower bound allows for firmware that refreshes the temperature only occasionally.
 */
const USUAL_CHANGES = { most: 40, least: 8 } as const;
/** −ln of one in a thousand million (a night has a million readings), and a margin for the uncertainty of the noise. */
const NO_CHANCE = { ln: 20.7, margin: 1.3, repeats: 0.8 } as const;
/** A sensor this fine shows any change of power; under steady power a well-tuned zone may stay within one step. */
const FINE = { stepK: 0.03, stillS: 60, powerMoved: 0.05 } as const;
/** A coarse sensor may stay still for as long as nothing changes around it; it is checked only after this, s. */
const COARSE_STILL_S = 120;
/** Slowest cooling of a healthy zone at 200 °C without power, K/s (0.3 K/s × 0.15 steady power). */
const LEAST_COOLING_K_PER_S = 0.045;
/** Neighbours hotter by this in sum may keep a zone at its temperature, K. */
const NEIGHBOUR_KEEPS_WARM_K = 10;
/** Power that is on or off for this long must show in any zone, s. */
const MUST_SHOW_S = 90;
/** How long a still reading may yet turn out to be frozen, s. */
const UNDECIDED = { fromS: 4, untilS: 14 } as const;
/**
 * A zone that is heated far below its set-point does not stop rising, and if its heater fails, it slows down first. Around a peak (a
 * parabola), at the rate right before, a reading would have crossed no more than seven steps of the sensor while it was still,
 * plus what that rate may be wrong by. A sensor that is refreshed rarely is still between two values.
 */
const STOPS = { riseS: 6, steps: 12, untilS: 30, refreshes: 5, belowSetpointK: 15 } as const;
/** Mean power from which a heater counts as fully on, 0…1. */
const FULL_POWER = 0.95;

/**
 * Exactly the same reading although it must have changed: its noise is gone, or power and set-point moved and it did not.
 * A coarse sensor that stays still while nothing else changes is not frozen.
 */
export class Frozen implements SlowRule {
  readonly #lagged = new LaggedPower();
  readonly #long = new LongStillness();
  /** Start of the still stretch that needs no other reason, epoch ms; the trace is too short to tell later. */
  #levelSinceMs = Number.NaN;

  check(zone: ZoneSituation, timeMs: number): boolean {
    const { stillness } = zone.trace;
    const stillS = stillness.stillForS(timeMs);
    const model = zone.powerKnown && zone.setpointC > 0 && zone.trace.temperatureC > COLD_BELOW_C ? zone.model : null;
    if (model !== null && this.#long.mustHaveMoved(zone.trace, model)) return true;
    if (stillS < LEAST_STILL_S) return false;
    if (stillness.neverStill && stillS > usualChanges(stillness.noiseSteps) * stillness.reversalEveryS) return true;
    if (stillness.isNoChance || stopsInFullRise(zone, stillS)) return true;
    if (model !== null && isUnresponsive(zone.trace, model, this.#lagged, stillS)) return true;
    if (stillS > FINE.stillS && this.#fineButUnresponsive(zone)) return true;
    return stillS >= COARSE_STILL_S && this.#mustHaveMoved(zone, stillS);
  }

  #fineButUnresponsive({ trace, powerKnown }: ZoneSituation): boolean {
    const { resolutionK } = trace.stillness;
    const half = FINE.stillS / 2;
    // A recent change of power cannot show yet.
    const ageS = LONGEST_DEAD_TIME_S;
    if (!powerKnown || trace.temperatureC < COLD_BELOW_C || trace.seconds < ageS + FINE.stillS) return false;
    if (resolutionK === 0 || resolutionK > FINE.stepK) return false;
    const movedBy = Math.abs(trace.meanPower(ageS, half) - trace.meanPower(ageS + half, half));
    return movedBy > FINE.powerMoved + trace.powerStep;
  }

  #mustHaveMoved(zone: ZoneSituation, stillS: number): boolean {
    const temperatureC = zone.trace.temperatureC;
    if (temperatureC < COLD_BELOW_C || zone.trace.seconds < MUST_SHOW_S) return false;
    const meanPower = zone.powerKnown ? zone.trace.meanPower(0, MUST_SHOW_S) : this.#impliedPower(zone, temperatureC);
    if (meanPower > FULL_POWER) {
      const { sinceMs } = zone.trace.stillness;
      if (isLevelAtFullPower(zone.trace, stillS)) this.#levelSinceMs = sinceMs;
      return this.#levelSinceMs !== sinceMs;
    }
    // Even the slowest cooling of a healthy zone would have crossed several steps of the sensor by now.
    const cooledK = (stillS * LEAST_COOLING_K_PER_S * (temperatureC - ROOM_C)) / 180;
    return (
      meanPower < 0.01 &&
      zone.neighboursHotterK < NEIGHBOUR_KEEPS_WARM_K &&
      cooledK > 1 + 2 * zone.trace.stillness.resolutionK
    );
  }

  /** The power that a controller must be using this far from its set-point; NaN = could be anything. */
  #impliedPower(zone: ZoneSituation, temperatureC: number): number {
    if (zone.setpointSteadyS < MUST_SHOW_S + LONGEST_DEAD_TIME_S) return Number.NaN;
    const awayK = temperatureC - zone.setpointC;
    if (zone.setpointC === 0 || awayK > Math.max(8, zone.withinC)) return 0;
    return awayK < -Math.max(30, zone.withinC) ? 1 : Number.NaN;
  }

  reset(): void {}
}

/** The reading became still while the zone was heated, and rose at a rate at which metal does not stop. */
function stopsInFullRise({ trace, setpointC, powerKnown }: ZoneSituation, stillS: number): boolean {
  const { stillness } = trace;
  const { riseS, steps, untilS, refreshes, belowSetpointK } = STOPS;
  if (stillness.resolutionK === 0 || stillS > untilS || stillS < refreshes * stillness.refreshS) return false;
  const agoS = Math.ceil(stillS);
  if (trace.seconds < agoS + riseS + 1 || !(setpointC - trace.temperatureC > belowSetpointK)) return false;
  if (powerKnown && !(trace.smallestPower(agoS + riseS) > HEATS_WITH)) return false;
  const roseK = trace.meanTemperature(agoS, 1) - trace.meanTemperature(agoS + riseS, 1);
  return (roseK * stillS) / riseS > steps * stillness.resolutionK;
}

/** A reading that has just become still may be frozen: wait until that is decided. */
export function mayTurnOutFrozen(trace: TraceView, timeMs: number): boolean {
  const stillS = trace.stillness.stillForS(timeMs);
  return stillS > UNDECIDED.fromS && stillS < UNDECIDED.untilS && trace.temperatureC > COLD_BELOW_C;
}

/**
 * The heater was fully on before the reading became still, too, and had all but stopped raising it: it gives what it can, and
 * the zone gets no hotter.
 */
function isLevelAtFullPower(trace: TraceView, stillS: number): boolean {
  const agoS = Math.ceil(stillS);
  if (!(trace.meanPower(agoS, MUST_SHOW_S) > FULL_POWER)) return false;
  const spanS = 5;
  const roseK = trace.meanTemperature(agoS, spanS) - trace.meanTemperature(agoS + MUST_SHOW_S - spanS, spanS);
  return Math.abs(roseK) <= trace.stillness.resolutionK;
}

/**
 * Noise whose reversals span `steps` of the sensor's steps repeats a value with a probability of about 0.8 / steps. Returns
 * the number of repetitions that is not chance.
 */
function usualChanges(steps: number): number {
  const { most, least } = USUAL_CHANGES;
  const changes = (NO_CHANCE.margin * NO_CHANCE.ln) / Math.log(steps / NO_CHANCE.repeats);
  return Math.min(most, Math.max(least, changes));
}
