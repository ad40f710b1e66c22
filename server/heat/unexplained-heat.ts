import { FeltPower } from './felt-power.ts';
import { COLD_BELOW_C } from './healthy-zone.ts';
import { type HeatBalance, heatBalance, POSSIBLE_RELIEF, possibleLoad } from './heat-balance.ts';
import type { ZoneSituation } from './heat-rule.ts';
import type { ThermalModel } from './thermal-model.ts';
import type { ExpectedReading, HeatFault } from './zone-status.ts';

/** The faults that the balance of heat can tell apart. */
export const BALANCE_FAULTS = [
  'noRise',
  'fallingAway',
  'sensorSlipped',
  'heaterWeak',
  'risingWithoutPower',
] as const satisfies HeatFault[];
type BalanceFault = (typeof BALANCE_FAULTS)[number];

/** A doubt that lasts for so many seconds in a row is none. */
const STRIKES = 2;
/** Power up to this is none. */
const NO_POWER = 0.02;
/** No heater gives more than this: then it is the sensor that is wrong, share of full power. */
const MOST_EXCESS = 1.5;
/** A zone that makes less than this share of the rise it should make does not rise; one that makes more has a weak heater. */
const RISES_SHARE = 0.25;
/**
 * A heater serves while the zone rises at least at this share of the rate it should, where it should rise at least at this
 * share of its rate at full power. One that served for so long, until so long ago, s, did not fade: it failed.
 */
const SERVES = { share: 0.75, rise: 0.3, forS: 8, untilAgoS: 30 } as const;
/** A reading that moved within this is not frozen, s. */
const MOVES_S = 2;
/** Weak is said later than lost: only high power shows it, for so long, s. */
const WEAK = { power: 0.5, share: 0.1, forS: 12 } as const;
/** Stillness that may become a frozen reading, s. */
const FROZEN = { fromS: 4, untilS: 14 } as const;
/** So long within what normal life explains ends the fault, s. */
const EXPLAINED_S = 15;
/** And before that, a rise like this ends a missing one, K. */
const RECOVERED_K = 6;

/**
 * Holds each zone's heat against its learnt model: heat that is missing (heater lost or weak, sensor slipped out) or too
 * much (switch stuck on). Missing more than even a dead heater explains means that the reading is wrong, not the heat:
 * a sensor that slipped out of its hole.
 */
export class UnexplainedHeat {
  readonly #felt = new FeltPower();
  #active: BalanceFault | null = null;
  #strikes = 0;
  #excessStrikes = 0;
  #weakS = 0;
  #servesS = 0;
  #servedAgoS = Number.POSITIVE_INFINITY;
  #explainedS = 0;
  #lowestC = 0;
  /** What the heater can have held when the trace began, share of full power; nothing is known of it at first. */
  #heldAtMost = 1;
  /** Where the reading was expected when it was last judged; null = not known. */
  expected: ExpectedReading | null = null;

  /** The fault that holds; null = none. Once a second. */
  judge(zone: ZoneSituation, model: ThermalModel, timeMs: number): HeatFault | null {
    const balance = heatBalance(zone.trace, model, this.#felt, this.#heldAtMost);
    this.#heldAtMost = balance.heldAtMost;
    this.expected = balance.expected;
    const temperatureC = zone.trace.meanTemperature(0, 3);
    const load = possibleLoad(temperatureC);
    if (this.#active !== null) return this.#goesOn(balance, load, temperatureC);
    // A zone that is off may cool as it likes.
    const wanted = zone.setpointC > 0 || balance.powerThen > NO_POWER;
    const lacks = wanted && balance.lacking > load;
    const abounds = balance.excess > POSSIBLE_RELIEF && balance.excess < MOST_EXCESS;
    this.#strikes = lacks ? this.#strikes + 1 : 0;
    this.#excessStrikes = abounds ? this.#excessStrikes + 1 : 0;
    this.#weakS = lacks && balance.powerThen > WEAK.power && balance.lacking > load + WEAK.share ? this.#weakS + 1 : 0;
    this.#followService(model, balance);
    if (this.#excessStrikes >= STRIKES) this.#active = 'risingWithoutPower';
    else if (this.#strikes >= STRIKES && !this.#seemsFrozen(zone, timeMs))
      this.#active = this.#missing(zone, balance, load, temperatureC, timeMs);
    this.#explainedS = 0;
    this.#lowestC = temperatureC;
    return this.#active;
  }

  /** A reading that stands exactly still is first given the time to show that it is frozen. */
  #seemsFrozen({ trace }: ZoneSituation, timeMs: number): boolean {
    const stillS = trace.stillness.stillForS(timeMs);
    return stillS > FROZEN.fromS && stillS < FROZEN.untilS && trace.temperatureC > COLD_BELOW_C;
  }

  /** How long the heater did what it should, and how long ago that ended. */
  #followService(model: ThermalModel, { slopeKPerS, leastSlopeKPerS }: HeatBalance): void {
    const serves = leastSlopeKPerS > SERVES.rise * model.rateKPerS && slopeKPerS > SERVES.share * leastSlopeKPerS;
    this.#servesS = serves ? this.#servesS + 1 : 0;
    this.#servedAgoS = this.#servesS >= SERVES.forS ? 0 : this.#servedAgoS + 1;
  }

  #missing(
    zone: ZoneSituation,
    balance: HeatBalance,
    load: number,
    temperatureC: number,
    timeMs: number,
  ): BalanceFault | null {
    const { lacking, powerThen, slopeKPerS, leastSlopeKPerS } = balance;
    const cold = temperatureC <= COLD_BELOW_C;
    if (lacking > powerThen + load && !cold) return 'sensorSlipped';
    // A dead heater takes no more than it gave; what takes more of a cold zone, that cools, is nobody's business.
    if (lacking > powerThen && cold) return null;
    const failed = this.#servedAgoS < SERVES.untilAgoS && zone.trace.stillness.stillForS(timeMs) < MOVES_S;
    if (failed || slopeKPerS <= 0 || slopeKPerS < RISES_SHARE * leastSlopeKPerS)
      return zone.held || slopeKPerS < -0.05 ? 'fallingAway' : 'noRise';
    return this.#weakS >= WEAK.forS ? 'heaterWeak' : null;
  }

  #goesOn(balance: HeatBalance, load: number, temperatureC: number): HeatFault | null {
    const rising = this.#active === 'risingWithoutPower';
    this.#lowestC = Math.min(this.#lowestC, temperatureC);
    const explained = rising
      ? balance.excess < POSSIBLE_RELIEF / 2
      : balance.lacking < load / 2 || temperatureC > this.#lowestC + RECOVERED_K;
    this.#explainedS = explained ? this.#explainedS + 1 : 0;
    if (this.#explainedS < EXPLAINED_S) {
      // What looked like a dead heater may turn out to be a sensor on its way out.
      if (!rising && balance.lacking > balance.powerThen + load && temperatureC > COLD_BELOW_C)
        this.#active = 'sensorSlipped';
      return this.#active;
    }
    this.#begin();
    return null;
  }

  rearm(): void {
    this.expected = null;
    this.#heldAtMost = 1;
    this.#begin();
  }

  #begin(): void {
    this.#active = null;
    this.#strikes = 0;
    this.#excessStrikes = 0;
    this.#weakS = 0;
    this.#servesS = 0;
    this.#servedAgoS = Number.POSITIVE_INFINITY;
    this.#explainedS = 0;
  }
}
