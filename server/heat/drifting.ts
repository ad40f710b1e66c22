import { NO_POWER } from './healthy-zone.ts';
import type { SlowRule, ZoneSituation } from './heat-rule.ts';
import { TRACE_S } from './zone-trace.ts';

/** Time off on the same side, s: a controller has compensated cold stock, a fan or a neighbour's new set-point by then. */
const AWAY_S = 240;
/** Time to settle after a change of set-point, or after a start with a hot line, s. */
const SETTLES_S = 600;
/** A slow zone crosses its band for minutes as it overshoots: it holds its set-point after this time, s. */
const SLOW_HOLDS_S = 200;
/** Closer to the set-point by this many kelvins than this many seconds ago, the zone is returning. */
const RETURNS = { byK: 0.5, withinS: 60 } as const;
/** Time back within the band that ends the fault, s. */
const BACK_S = 30;

/** Every healthy zone cools at least this much within `AWAY_S` without power, K. */
const COOLS_K = 1;
/** A neighbour that is hotter by more than this may keep it hot, K. */
const NEIGHBOUR_HEATS_K = 1;

/**
 * The zone held its set-point, then slowly left it to one side although nothing was changed; or it stays above its set-point
 * without power, where every healthy zone cools.
 */
export class Drifting implements SlowRule {
  #reached = false;
  #side = 0;
  /** Also counts within the band, where it means nothing. */
  #sameSideS = 0;
  /** Since it last became colder without power. */
  #unheatedS = 0;
  #unheatedOffK = 0;
  #backS = 0;
  #active = false;

  check(zone: ZoneSituation): boolean {
    const offK = zone.trace.meanTemperature(0, 5) - zone.setpointC;
    if (!(zone.setpointC > 0) || Number.isNaN(offK)) {
      this.reset();
      return false;
    }
    const settlesS = SETTLES_S * zone.slowness;
    if (zone.setpointSteadyS < settlesS || zone.hotStartAgoS < settlesS) this.#startAgain();
    const side = offK > zone.withinC ? 1 : offK < -zone.withinC ? -1 : 0;
    this.#backS = side === 0 ? this.#backS + 1 : 0;
    // A zone that comes up slowly can hold the edge of the band before its mean is inside.
    const holdsS = zone.slowness === 1 ? 1 : SLOW_HOLDS_S * zone.slowness;
    if (zone.held && this.#backS >= holdsS) this.#reached = true;
    const hotUnpowered = side > 0 && zone.powerKnown && zone.trace.greatestPower(1) <= NO_POWER;
    const isWarmed = hotUnpowered && zone.neighboursHotterK >= NEIGHBOUR_HEATS_K;
    // The controller can do no more than switch off against a hotter neighbour's heat.
    this.#sameSideS = side === this.#side && !isWarmed ? this.#sameSideS + 1 : 0;
    this.#side = side;
    const unheated = hotUnpowered && !isWarmed;
    if (!unheated || this.#unheatedS === 0 || offK <= this.#unheatedOffK - COOLS_K) {
      this.#unheatedS = unheated ? 1 : 0;
      this.#unheatedOffK = offK;
    } else this.#unheatedS++;
    const longS = AWAY_S * zone.slowness;
    const isLong =
      (this.#reached && this.#sameSideS >= longS) || Math.min(this.#unheatedS, zone.setpointSteadyS) >= longS;
    if (this.#backS >= BACK_S) this.#active = false;
    else if (isLong && !this.#returns(zone, side * offK)) this.#active = true;
    return this.#active;
  }

  /** A slow controller takes longer, but does bring the zone back. */
  #returns({ trace, setpointC, slowness }: ZoneSituation, awayK: number): boolean {
    const agoS = Math.min(Math.round(RETURNS.withinS * slowness), TRACE_S - 5);
    const beforeK = Math.abs(trace.meanTemperature(agoS, 5) - setpointC);
    return beforeK - awayK > RETURNS.byK;
  }

  reset(): void {
    this.#startAgain();
    this.#unheatedS = 0;
  }

  /** Whether it holds its set-point must show again. A zone that stays hot without power does so all the same. */
  #startAgain(): void {
    this.#reached = false;
    this.#side = 0;
    this.#sameSideS = 0;
    this.#backS = 0;
    this.#active = false;
  }
}
