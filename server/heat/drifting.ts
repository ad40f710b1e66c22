import type { SlowRule, ZoneSituation } from './heat-rule.ts';

/** Away on the same side for so long, s: cold stock, a fan or another set-point of a neighbour are made up for by then. */
const AWAY_S = 240;
/** A set-point that was changed, or a line that began anew while hot, is given time to settle, s. */
const SETTLES_S = 600;
/** Nearer by so much than so long ago it is on its way back, K and s. */
const RETURNS = { byK: 0.5, withinS: 60 } as const;
/** Back within the band for so long ends it, s. */
const BACK_S = 30;

/** Had held its set-point, and has slowly left it to one side although nothing was changed. */
export class Drifting implements SlowRule {
  #reached = false;
  #side = 0;
  #awayS = 0;
  #backS = 0;
  #active = false;

  judge(zone: ZoneSituation): boolean {
    const offK = zone.trace.meanTemperature(0, 5) - zone.setpointC;
    if (!(zone.setpointC > 0) || Number.isNaN(offK)) {
      this.rearm();
      return false;
    }
    if (zone.setpointSteadyS < SETTLES_S || zone.armedHotS < SETTLES_S) this.rearm();
    const side = offK > zone.withinC ? 1 : offK < -zone.withinC ? -1 : 0;
    if (zone.held) this.#reached = true;
    this.#awayS = side !== 0 && side === this.#side ? this.#awayS + 1 : 0;
    this.#side = side;
    this.#backS = side === 0 ? this.#backS + 1 : 0;
    if (this.#backS >= BACK_S) this.#active = false;
    else if (this.#reached && this.#awayS >= AWAY_S && !this.#returns(zone, side * offK)) this.#active = true;
    return this.#active;
  }

  /** A lazy controller may take longer, but it does make up for it. */
  #returns({ trace, setpointC }: ZoneSituation, awayK: number): boolean {
    const beforeK = Math.abs(trace.meanTemperature(RETURNS.withinS, 5) - setpointC);
    return beforeK - awayK > RETURNS.byK;
  }

  rearm(): void {
    this.#reached = false;
    this.#side = 0;
    this.#awayS = 0;
    this.#backS = 0;
    this.#active = false;
  }
}
