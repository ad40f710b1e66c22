import { isDeaf } from './deaf-reading.ts';
import { FeltPower } from './felt-power.ts';
import { COLD_BELOW_C, LONGEST_DEAD_TIME_S, ROOM_C } from './healthy-zone.ts';
import type { SlowRule, ZoneSituation } from './heat-rule.ts';
import { LongStillness } from './long-stillness.ts';

/** Nothing shorter is looked at, s. */
const LEAST_STILL_S = 8;
/**
 * A sensor whose noise is known to span several of its steps: exactly the same for so many times its usual change is no
 * chance, and some firmware renews the temperature only now and then. At most, and at least.
 */
const USUAL_CHANGES = { most: 40, least: 8 } as const;
/** ln of one in a thousand million: there are a million readings in a night. And how sure the noise is known. */
const NO_CHANCE = { ln: 20.7, margin: 1.3, repeats: 0.8 } as const;
/** A sensor this fine shows any change of the power; a well-tuned zone may still rest within its step, K. */
const FINE = { stepK: 0.03, stillS: 60, powerMoved: 0.05 } as const;
/** A coarse sensor may hold still for as long as nothing changes around it, s. */
const COARSE_STILL_S = 120;
/** Slowest cooling at 200 °C of a healthy zone without power, K/s (0.3 K/s × 0.15 steady power). */
const LEAST_COOLING_K_PER_S = 0.045;
/** Neighbours that are hotter by this in sum may keep a zone where it is, K. */
const NEIGHBOUR_KEEPS_WARM_K = 10;
/** Power on or off for so long must show in any zone, s. */
const MUST_SHOW_S = 90;

/**
 * Exactly the same reading for minutes while it must have changed: its own noise has gone, or power and set-point moved
 * and it did not. A coarse sensor that rests while nothing else changes is left in peace.
 */
export class Frozen implements SlowRule {
  readonly #felt = new FeltPower();
  readonly #long = new LongStillness();

  judge(zone: ZoneSituation, timeMs: number): boolean {
    const { stillness } = zone.trace;
    const stillS = stillness.stillForS(timeMs);
    const model = zone.powerKnown && zone.setpointC > 0 && zone.trace.temperatureC > COLD_BELOW_C ? zone.model : null;
    if (model !== null && this.#long.mustHaveMoved(zone.trace, model)) return true;
    if (stillS < LEAST_STILL_S) return false;
    if (stillness.neverStill && stillS > usualChanges(stillness.noiseSteps) * stillness.reversalEveryS) return true;
    if (stillness.isNoChance) return true;
    if (model !== null && isDeaf(zone.trace, model, this.#felt, stillS)) return true;
    if (stillS > FINE.stillS && this.#fineButDeaf(zone)) return true;
    return stillS >= COARSE_STILL_S && this.#mustHaveMoved(zone, stillS);
  }

  #fineButDeaf({ trace, powerKnown }: ZoneSituation): boolean {
    const { resolutionK } = trace.stillness;
    const half = FINE.stillS / 2;
    // What the power did just now cannot show yet.
    const ageS = LONGEST_DEAD_TIME_S;
    if (!powerKnown || trace.temperatureC < COLD_BELOW_C || trace.seconds < ageS + FINE.stillS) return false;
    if (resolutionK === 0 || resolutionK > FINE.stepK) return false;
    const movedBy = Math.abs(trace.meanPower(ageS, half) - trace.meanPower(ageS + half, half));
    return movedBy > FINE.powerMoved + trace.powerStep;
  }

  #mustHaveMoved(zone: ZoneSituation, stillS: number): boolean {
    const temperatureC = zone.trace.temperatureC;
    if (temperatureC < COLD_BELOW_C || zone.trace.seconds < MUST_SHOW_S) return false;
    const meanPower = zone.powerKnown ? zone.trace.meanPower(0, MUST_SHOW_S) : this.#powerGuess(zone, temperatureC);
    if (meanPower > 0.95) return true;
    // The slowest cooling of a healthy zone must have gone through several steps of the sensor by now.
    const cooledK = (stillS * LEAST_COOLING_K_PER_S * (temperatureC - ROOM_C)) / 180;
    return (
      meanPower < 0.01 &&
      zone.neighboursHotterK < NEIGHBOUR_KEEPS_WARM_K &&
      cooledK > 1 + 2 * zone.trace.stillness.resolutionK
    );
  }

  /** Without the power: what a controller does this far from its set-point for so long; NaN = anything. */
  #powerGuess(zone: ZoneSituation, temperatureC: number): number {
    if (zone.setpointSteadyS < MUST_SHOW_S + LONGEST_DEAD_TIME_S) return Number.NaN;
    const awayK = temperatureC - zone.setpointC;
    if (zone.setpointC === 0 || awayK > Math.max(8, zone.withinC)) return 0;
    return awayK < -Math.max(30, zone.withinC) ? 1 : Number.NaN;
  }

  rearm(): void {}
}

/**
 * Noise whose reversals span `steps` of the sensor's steps repeats a value with a chance of about 0.8 / steps; so many
 * repetitions in a row are none.
 */
function usualChanges(steps: number): number {
  const { most, least } = USUAL_CHANGES;
  const changes = (NO_CHANCE.margin * NO_CHANCE.ln) / Math.log(steps / NO_CHANCE.repeats);
  return Math.min(most, Math.max(least, changes));
}
