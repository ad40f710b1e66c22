import { COLD_BELOW_C, SLOWEST } from './healthy-zone.ts';
import { HeatResponse } from './heat-response.ts';
import type { ZoneSituation } from './heat-rule.ts';
import { leastFromNeighbours } from './steady-rise.ts';

/** Time for which the reading must be plausible again before a fault ends, s. */
const PLAUSIBLE_S = 15;
/** A cold zone without power is no danger any more, share of full power, over this time, s. */
const OFF = { power: 0.01, forS: 60 } as const;
/** The power that a reading responds to is averaged over this time, s. */
const RESPONDS_TO = { fromS: 8, forS: 8 } as const;
/** Part of the greatest holding power of any healthy zone that is subtracted while the zone's own is unknown. */
const UNKNOWN_HOLD = 0.8;

/** Whether a zone is cold and gets no power. */
export function isOff({ trace }: ZoneSituation): boolean {
  const spanS = Math.min(OFF.forS, trace.seconds);
  return trace.meanTemperature(0, 3) < COLD_BELOW_C && trace.meanPower(0, spanS) < OFF.power;
}

/**
 * A missing heat that was reported stays reported until the reading follows the power again, as it did earlier:
 * a sensor beside its hole rises too, but too slowly. For zones whose model is not learnt yet.
 */
export class Recovery {
  readonly #response = new HeatResponse();
  #plausibleS = 0;

  /** Call every second; `isMissing` since the fault was reported. null = how the zone responds is not known. */
  follow(zone: ZoneSituation, isMissing: boolean): 'recovered' | 'missing' | null {
    // A rise that had not set in yet says nothing about how fast it would have become.
    const usual = zone.learnt.hasSetIn ? zone.learnt.response : zone.elsewhere;
    if (usual === null || !zone.powerKnown) {
      this.reset();
      return null;
    }
    const { trace, learnt } = zone;
    const temperatureC = trace.meanTemperature(0, 3);
    const power = trace.meanPower(RESPONDS_TO.fromS, RESPONDS_TO.forS);
    const hold = learnt.holdingPower(temperatureC) * (learnt.isHoldingKnown ? 1 : UNKNOWN_HOLD);
    const rateKPerS = Math.max(usual.rateKPerS, learnt.steepestKPerS, SLOWEST.rateKPerS);
    // What holding takes is uncertain, so only a rise counts, by the power that is left for it.
    const expectedKPerS = rateKPerS * (power - hold) + Math.max(0, leastFromNeighbours(trace, 0, RESPONDS_TO.forS));
    this.#response.add(power - hold, expectedKPerS, temperatureC, rateKPerS);
    this.#plausibleS = isMissing && (isOff(zone) || this.#response.isPlausible) ? this.#plausibleS + 1 : 0;
    return this.#plausibleS >= PLAUSIBLE_S ? 'recovered' : 'missing';
  }

  reset(): void {
    this.#response.reset();
    this.#plausibleS = 0;
  }
}
