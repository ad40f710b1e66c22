import { COLD_BELOW_C } from './healthy-zone.ts';
import { type HeatBalance, heatBalance, POSSIBLE_RELIEF, possibleLoad } from './heat-balance.ts';
import type { ZoneSituation } from './heat-rule.ts';
import { LaggedPower } from './lagged-power.ts';
import type { ThermalModel } from './thermal-model.ts';
import type { ExpectedReading, HeatFault } from './zone-status.ts';

/** The faults that the heat balance can distinguish. */
export const BALANCE_FAULTS = [
  'noRise',
  'fallingAway',
  'sensorSlipped',
  'heaterWeak',
  'risingWithoutPower',
] as const satisfies HeatFault[];
type BalanceFault = (typeof BALANCE_FAULTS)[number];

/** Consecutive seconds for which a fault must show. */
const STRIKES = 2;
/** Power up to this counts as none. */
const NO_POWER = 0.02;
/** No heater supplies more than this, as a share of full power; beyond it the sensor is wrong. */
const MOST_EXCESS = 1.5;
/** Below this share of the expected rise the zone counts as not rising; above it the heater is weak. */
const RISES_SHARE = 0.25;
/**
 * A heater works while the zone rises at no less than `share` of the expected rate, itself at least `rise` of the rate at full
 * power. One that worked for `forS`, and until `untilAgoS` ago, has failed rather than faded.
 */
const WORKS = { share: 0.75, rise: 0.3, forS: 8, untilAgoS: 30 } as const;
/** A reading that moved within this time is not frozen, s. */
const MOVES_S = 2;
/** A weak heater takes longer to recognise than a lost one, and shows only at high power. */
const WEAK = { power: 0.5, share: 0.1, forS: 12 } as const;
/** How long a still reading may yet turn out to be frozen, s. */
const FROZEN = { fromS: 4, untilS: 14 } as const;
/** Time within what normal operation explains that ends a fault, s. */
const EXPLAINED_S = 15;
/** A rise by this much ends a missing rise earlier, K. */
const RECOVERED_K = 6;

/**
 * Compares a zone's heat with its learnt model: missing heat (heater lost or weak, sensor slipped out) or excess heat (switch
 * stuck on). If more is missing than even a dead heater explains, the reading is wrong: the sensor slipped out of its hole.
 */
export class UnexplainedHeat {
  readonly #lagged = new LaggedPower();
  #active: BalanceFault | null = null;
  #strikes = 0;
  #excessStrikes = 0;
  #weakS = 0;
  #worksS = 0;
  #workedAgoS = Number.POSITIVE_INFINITY;
  #explainedS = 0;
  #lowestC = 0;
  /** Most heat that the heater can have stored when the trace began, share of full power; 1 = not known yet. */
  #storedAtMost = 1;
  #expected: ExpectedReading | null = null;

  /** Where the reading was expected at the last call of `judge`; null = unknown. */
  get expected(): ExpectedReading | null {
    return this.#expected;
  }

  /** The fault that holds now; null = none. Call once a second. */
  judge(zone: ZoneSituation, model: ThermalModel, timeMs: number): HeatFault | null {
    const balance = heatBalance(zone.trace, model, this.#lagged, this.#storedAtMost);
    this.#storedAtMost = balance.storedAtMost;
    this.#expected = balance.expected;
    const temperatureC = zone.trace.meanTemperature(0, 3);
    const load = possibleLoad(temperatureC);
    if (this.#active !== null) return this.#followFault(balance, load, temperatureC);
    // A zone that is off may cool at any rate.
    const wanted = zone.setpointC > 0 || balance.powerThen > NO_POWER;
    const hasDeficit = wanted && balance.deficit > load;
    const hasExcess = balance.excess > POSSIBLE_RELIEF && balance.excess < MOST_EXCESS;
    this.#strikes = hasDeficit ? this.#strikes + 1 : 0;
    this.#excessStrikes = hasExcess ? this.#excessStrikes + 1 : 0;
    this.#weakS =
      hasDeficit && balance.powerThen > WEAK.power && balance.deficit > load + WEAK.share ? this.#weakS + 1 : 0;
    this.#followHeater(model, balance);
    if (this.#excessStrikes >= STRIKES) this.#active = 'risingWithoutPower';
    else if (this.#strikes >= STRIKES && !this.#seemsFrozen(zone, timeMs))
      this.#active = this.#deficitFault(zone, balance, load, temperatureC, timeMs);
    this.#explainedS = 0;
    this.#lowestC = temperatureC;
    return this.#active;
  }

  /** A reading that has just become still may be frozen; wait until that is decided. */
  #seemsFrozen({ trace }: ZoneSituation, timeMs: number): boolean {
    const stillS = trace.stillness.stillForS(timeMs);
    return stillS > FROZEN.fromS && stillS < FROZEN.untilS && trace.temperatureC > COLD_BELOW_C;
  }

  /** How long the heater worked as expected, and how long ago that ended. */
  #followHeater(model: ThermalModel, { slopeKPerS, leastSlopeKPerS }: HeatBalance): void {
    const works = leastSlopeKPerS > WORKS.rise * model.rateKPerS && slopeKPerS > WORKS.share * leastSlopeKPerS;
    this.#worksS = works ? this.#worksS + 1 : 0;
    this.#workedAgoS = this.#worksS >= WORKS.forS ? 0 : this.#workedAgoS + 1;
  }

  #deficitFault(
    zone: ZoneSituation,
    balance: HeatBalance,
    load: number,
    temperatureC: number,
    timeMs: number,
  ): BalanceFault | null {
    const { deficit, powerThen, slopeKPerS, leastSlopeKPerS } = balance;
    const cold = temperatureC <= COLD_BELOW_C;
    if (deficit > powerThen + load && !cold) return 'sensorSlipped';
    // A dead heater explains a deficit up to the power it had supplied. A cold zone that loses more is just cooling.
    if (deficit > powerThen && cold) return null;
    const failed = this.#workedAgoS < WORKS.untilAgoS && zone.trace.stillness.stillForS(timeMs) < MOVES_S;
    if (failed || slopeKPerS <= 0 || slopeKPerS < RISES_SHARE * leastSlopeKPerS)
      return zone.held || slopeKPerS < -0.05 ? 'fallingAway' : 'noRise';
    return this.#weakS >= WEAK.forS ? 'heaterWeak' : null;
  }

  #followFault(balance: HeatBalance, load: number, temperatureC: number): HeatFault | null {
    const rising = this.#active === 'risingWithoutPower';
    this.#lowestC = Math.min(this.#lowestC, temperatureC);
    const explained = rising
      ? balance.excess < POSSIBLE_RELIEF / 2
      : balance.deficit < load / 2 || temperatureC > this.#lowestC + RECOVERED_K;
    this.#explainedS = explained ? this.#explainedS + 1 : 0;
    if (this.#explainedS < EXPLAINED_S) {
      // What looked like a dead heater may turn out to be a sensor that is slipping out.
      if (!rising && balance.deficit > balance.powerThen + load && temperatureC > COLD_BELOW_C)
        this.#active = 'sensorSlipped';
      return this.#active;
    }
    this.#clear();
    return null;
  }

  reset(): void {
    this.#expected = null;
    this.#storedAtMost = 1;
    this.#clear();
  }

  #clear(): void {
    this.#active = null;
    this.#strikes = 0;
    this.#excessStrikes = 0;
    this.#weakS = 0;
    this.#worksS = 0;
    this.#workedAgoS = Number.POSITIVE_INFINITY;
    this.#explainedS = 0;
  }
}
