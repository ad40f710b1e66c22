import { COLD_BELOW_C, LONGEST_DEAD_TIME_S } from './healthy-zone.ts';
import type { SlowRule, ZoneSituation } from './heat-rule.ts';

/** A sensor whose noise is known to span several of its steps: exactly the same for so long is no chance, s. */
const NOISY_STILL_S = 45;
/** And for as many times its usual change as this, since some firmware renews the temperature only now and then. */
const USUAL_CHANGES = 60;
/** A sensor this fine trembles on any hot zone, even if its noise is small, K. */
const FINE_K = 0.03;
const FINE_STILL_S = 60;
/** A coarse sensor may hold still for as long as nothing changes around it, s. */
const COARSE_STILL_S = 120;
/** Power on or off for so long must show in any zone, s. */
const MUST_SHOW_S = 90;

/**
 * Exactly the same reading for minutes while it must have changed: its own noise has gone, or power and set-point moved
 * and it did not. A coarse sensor that rests while nothing else changes is left in peace.
 */
export class Frozen implements SlowRule {
  judge(zone: ZoneSituation, timeMs: number): boolean {
    const { stillness } = zone.trace;
    const stillS = stillness.stillForS(timeMs);
    if (stillS < NOISY_STILL_S) return false;
    if (stillness.neverStill && stillS > USUAL_CHANGES * stillness.reversalEveryS) return true;
    const { resolutionK } = stillness;
    const hot = zone.trace.temperatureC > COLD_BELOW_C;
    if (hot && resolutionK > 0 && resolutionK <= FINE_K && stillS > FINE_STILL_S) return true;
    return stillS >= COARSE_STILL_S && this.#mustHaveMoved(zone);
  }

  #mustHaveMoved(zone: ZoneSituation): boolean {
    const temperatureC = zone.trace.temperatureC;
    if (temperatureC < COLD_BELOW_C || zone.trace.seconds < MUST_SHOW_S) return false;
    if (zone.powerKnown) {
      const mean = zone.trace.meanPower(0, MUST_SHOW_S);
      return mean < 0.01 || mean > 0.95;
    }
    return (
      zone.setpointSteadyS > MUST_SHOW_S + LONGEST_DEAD_TIME_S &&
      Math.abs(temperatureC - zone.setpointC) > Math.max(8, zone.withinC)
    );
  }

  rearm(): void {}
}
