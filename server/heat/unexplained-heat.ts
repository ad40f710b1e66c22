import { mayTurnOutFrozen } from './frozen.ts';
import { COLD_BELOW_C, GREATEST_LOAD, NO_POWER, ROOM_C } from './healthy-zone.ts';
import { type HeatBalance, heatBalance, POSSIBLE_RELIEF, possibleLoad } from './heat-balance.ts';
import { HeatResponse } from './heat-response.ts';
import type { ZoneSituation } from './heat-rule.ts';
import { LaggedPower } from './lagged-power.ts';
import { type LostShare, lostShare } from './lost-share.ts';
import { isOff } from './recovery.ts';
import { slopeKPerS, type ThermalModel } from './thermal-model.ts';
import type { ExpectedReading, HeatFault } from './zone-status.ts';

/** The faults that the heat balance can distinguish. */
export const BALANCE_FAULTS = [
  'noRise',
  'losingTemperature',
  'sensorSlipped',
  'heaterWeak',
  'risingWithoutPower',
] as const satisfies HeatFault[];
type BalanceFault = (typeof BALANCE_FAULTS)[number];

/** Consecutive seconds for which a fault must show. */
export const STRIKES = 2;
/** No heater supplies more than this, as a share of full power; beyond it the sensor is wrong. */
const MOST_EXCESS = 1.5;
/** Below this share of the expected rise the zone counts as not rising; above it the heater is weak. */
export const RISES_SHARE = 0.25;
/**
 * A heater works while the zone rises at no less than `share` of the expected rate, itself at least `rise` of the rate at full
 * power. One that worked for `forS`, and until `untilAgoS` ago, has failed rather than faded.
 */
export const WORKS = { share: 0.75, rise: 0.3, forS: 8, untilAgoS: 30 } as const;
/** A reading that moved within this time is not frozen, s. */
const MOVES_S = 2;
/** A weak heater takes longer to recognise than a lost one, and shows only at high power. */
export const WEAK = { power: 0.5, share: 0.1, forS: 12 } as const;
/** Time within what normal operation explains that ends a fault, s. */
const EXPLAINED_S = 15;
/** Excess beyond which only a sensor that is back in its hole explains a rise, share of full power; a late reading explains less. */
const BACK_IN_ITS_HOLE = 0.8;
/** After a reading came back faster than any heater brings it, earlier seconds say nothing about the heat, s. */
const SETTLES_S = 45;
/** With so much power, a reading that falls faster than a dead heater explains has left its hole, even below 50 °C. */
const SLIPS_WITH_POWER = 0.3;
/**
 * A heater that gives a share of its heat never lacked more than the rest; a sensor that slipped out shows a share too, but
 * its reading lacked more while it left its hole. Shares, and how far the two must be apart to tell, as shares.
 */
const LEAST_POWER_OF_SHARE = 0.25;
const WEAK_SHARE = { least: 0.2, most: 0.8 } as const;
const LACKED_MORE = { weak: 0.1, slipped: 0.2, mostShare: 0.65 } as const;
/** Less than this was not lost, nor what the greatest load explains but for so much, as shares of full power. */
const LEAST_LOSS = { share: 0.2, beyondLoad: 0.03 } as const;
/** A heater that certainly lost less than this share is weak, one that certainly lost more is dead. */
const DEAD_SHARE = 0.75;

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
  /** For how long the heater certainly lost a part of its heat, s. */
  #partlyLostS = 0;
  #worksS = 0;
  #workedAgoS = Number.POSITIVE_INFINITY;
  #explainedS = 0;
  /** Most heat that the heater can have stored when the trace began, share of full power; 1 = not known yet. */
  #storedAtMost = 1;
  #expected: ExpectedReading | null = null;
  readonly #response = new HeatResponse();
  /** Since the fault was found, s. */
  #faultS = 0;
  #settlesS = 0;
  /** Greatest share of the heat that was certainly missing since the fault began. */
  #mostLacking = 0;

  /** Where the reading was expected at the last call of `check`; null = unknown. */
  get expected(): ExpectedReading | null {
    return this.#expected;
  }

  /** A fault was found and holds. */
  get isActive(): boolean {
    return this.#active !== null;
  }

  /** The fault that holds now; null = none. Call once a second. */
  check(zone: ZoneSituation, model: ThermalModel, timeMs: number): HeatFault | null {
    const balance = heatBalance(zone.trace, model, this.#lagged, this.#storedAtMost);
    this.#storedAtMost = balance.storedAtMost;
    this.#expected = balance.expected;
    const temperatureC = zone.trace.meanTemperature(0, 3);
    const load = possibleLoad(temperatureC);
    this.#followResponse(zone, model);
    if (this.#settlesS > 0) {
      this.#settlesS--;
      return null;
    }
    if (this.#active !== null) return this.#followFault(zone, model, balance, load, temperatureC);
    // A zone that is off may cool at any rate.
    const wanted = zone.setpointC > 0 || balance.powerThen > NO_POWER;
    // Among coupled zones the model's doubt can hide half a heater, which a comparison with the zone's earlier rise shows.
    const lost = this.#followLoss(zone, model, temperatureC);
    const hasDeficit = wanted && balance.deficit > load;
    const hasExcess = balance.excess > POSSIBLE_RELIEF && balance.excess < MOST_EXCESS;
    this.#strikes = hasDeficit || lost !== null ? this.#strikes + 1 : 0;
    this.#excessStrikes = hasExcess ? this.#excessStrikes + 1 : 0;
    this.#weakS =
      hasDeficit && balance.powerThen > WEAK.power && balance.deficit > load + WEAK.share ? this.#weakS + 1 : 0;
    this.#followHeater(model, balance);
    if (this.#excessStrikes >= STRIKES) this.#active = 'risingWithoutPower';
    else if (this.#strikes >= STRIKES && !mayTurnOutFrozen(zone.trace, timeMs))
      this.#active =
        (hasDeficit ? this.#deficitFault(zone, balance, load, temperatureC, timeMs) : null) ??
        this.#lossFault(zone, lost);
    this.#explainedS = 0;
    this.#faultS = 0;
    this.#mostLacking = 0;
    return this.#active;
  }

  /** How much of its power's heat the zone shows; both as they were a second ago. */
  #followResponse({ trace }: ZoneSituation, model: ThermalModel): void {
    const power = this.#lagged.mean(1 + model.deadTimeS, 1);
    const temperatureC = trace.meanTemperature(0, 3);
    const expected = slopeKPerS(model, power, temperatureC, trace.meanNeighbours(1, 1));
    this.#response.add(power, expected, temperatureC, model.rateKPerS);
  }

  #followLoss(zone: ZoneSituation, model: ThermalModel, temperatureC: number): LostShare | null {
    const lost = lossOf(zone, model, this.#lagged, temperatureC);
    this.#partlyLostS = lost !== null && lost.most < DEAD_SHARE ? this.#partlyLostS + 1 : 0;
    return lost;
  }

  /** null = not known yet. Between two times that are tried, a dead heater seems weak for a moment. */
  #lossFault(zone: ZoneSituation, lost: LostShare | null): BalanceFault | null {
    if (this.#partlyLostS >= WEAK.forS) return 'heaterWeak';
    if (lost === null || lost.least < DEAD_SHARE) return null;
    return zone.held ? 'losingTemperature' : 'noRise';
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
    if (deficit > powerThen + load && (!cold || powerThen > SLIPS_WITH_POWER)) return 'sensorSlipped';
    // A dead heater explains a deficit up to the power it had supplied. A cold zone that loses more is just cooling.
    if (deficit > powerThen && cold) return null;
    const failed = this.#workedAgoS < WORKS.untilAgoS && zone.trace.stillness.stillForS(timeMs) < MOVES_S;
    if (failed || slopeKPerS <= 0 || slopeKPerS < RISES_SHARE * leastSlopeKPerS)
      return zone.held || slopeKPerS < -0.05 ? 'losingTemperature' : 'noRise';
    return this.#weakS >= WEAK.forS ? 'heaterWeak' : null;
  }

  #followFault(
    zone: ZoneSituation,
    model: ThermalModel,
    balance: HeatBalance,
    load: number,
    temperatureC: number,
  ): HeatFault | null {
    this.#faultS++;
    if (balance.powerThen > LEAST_POWER_OF_SHARE)
      this.#mostLacking = Math.max(this.#mostLacking, balance.deficit / balance.powerThen);
    if (this.#active === 'risingWithoutPower') {
      this.#explainedS = balance.excess < POSSIBLE_RELIEF / 2 ? this.#explainedS + 1 : 0;
      if (this.#explainedS >= EXPLAINED_S) this.#clear();
      return this.#active;
    }
    // What looked like a dead heater may turn out to be a sensor that is slipping out, or half a heater.
    if (balance.deficit > balance.powerThen + load && temperatureC > COLD_BELOW_C) this.#active = 'sensorSlipped';
    else this.#tellShares(zone, model, this.#followLoss(zone, model, temperatureC));
    this.#excessStrikes = balance.excess > BACK_IN_ITS_HOLE ? this.#excessStrikes + 1 : 0;
    if (this.#excessStrikes >= STRIKES) {
      // The sensor is back in its hole: its reading rose faster than its heater warms it.
      this.#clear();
      this.#settlesS = SETTLES_S;
      return null;
    }
    this.#explainedS = isOff(zone) || this.#response.isPlausible ? this.#explainedS + 1 : 0;
    if (this.#explainedS >= EXPLAINED_S) this.#clear();
    return this.#active;
  }

  /** Half a heater, or a sensor beside its hole: both show a share of the heat. */
  #tellShares(zone: ZoneSituation, model: ThermalModel, lost: LostShare | null): void {
    if (this.#active === 'sensorSlipped') return;
    const fault = this.#lossFault(zone, lost);
    if (fault === 'heaterWeak' ? lost !== null && this.#mostLacking < lost.most + LACKED_MORE.weak : fault !== null) {
      this.#active = fault;
      return;
    }
    const { windowS, share, isSteady } = this.#response;
    // The share counts once the response to the fault is complete.
    if (!isSteady || this.#faultS < windowS + model.lagS + model.secondLagS) return;
    if (!(share > WEAK_SHARE.least && share < WEAK_SHARE.most)) return;
    const moreThanNow = this.#mostLacking - (1 - share);
    if (moreThanNow > LACKED_MORE.slipped && share < LACKED_MORE.mostShare) this.#active = 'sensorSlipped';
    else if (moreThanNow < LACKED_MORE.weak) this.#active = 'heaterWeak';
  }

  reset(): void {
    this.#expected = null;
    this.#storedAtMost = 1;
    this.#response.reset();
    this.#settlesS = 0;
    this.#clear();
  }

  #clear(): void {
    this.#active = null;
    this.#strikes = 0;
    this.#excessStrikes = 0;
    this.#weakS = 0;
    this.#partlyLostS = 0;
    this.#worksS = 0;
    this.#workedAgoS = Number.POSITIVE_INFINITY;
    this.#explainedS = 0;
    this.#faultS = 0;
  }
}

/** What a zone lost under steady power, if it is more than a load takes; else null. */
function lossOf(
  { trace }: ZoneSituation,
  model: ThermalModel,
  lagged: LaggedPower,
  temperatureC: number,
): LostShare | null {
  const power = trace.powerAt(0);
  if (!(power > WEAK.power)) return null;
  const lost = lostShare(trace, model, lagged);
  const loadShare = (GREATEST_LOAD * (temperatureC - ROOM_C)) / 180;
  const least = Math.max(LEAST_LOSS.share, loadShare + LEAST_LOSS.beyondLoad);
  return lost !== null && lost.least * power > least ? lost : null;
}
