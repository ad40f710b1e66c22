/** Time that is kept, s. */
const KEPT_S = 96;
/** A response is measured while the zone would rise by this much at full power, but over no less and no more than these, s. */
const MEASURED_K = 20;
const LEAST_WINDOW_S = 25;
const MOST_WINDOW_S = 60;
/** A share of the heat says nothing at less power than this. */
const LEAST_POWER = 0.25;
/** From this share on, loads and the model's error explain what is missing. */
const PLAUSIBLE_SHARE = 0.75;
/** A share that changed by less between half a window ago and now is steady. */
const STEADY_WITHIN = 0.04;
/** At less power: mean missing heat, as a share of full power, that the model's error explains; and the least power that tells. */
const BALANCED = { missing: 0.04, power: 0.05 } as const;

/**
 * How much of the heat that a zone's power should bring shows in its reading, over the last minutes. A heater of which half
 * is lost, and a sensor that sits beside its hole, both show a share.
 */
export class HeatResponse {
  /** Sums since the last reset, as rings: lagged power, and the expected rise, K. */
  readonly #powers = new Float64Array(KEPT_S);
  readonly #expectedK = new Float64Array(KEPT_S);
  readonly #temperatureC = new Float64Array(KEPT_S);
  #seconds = 0;
  #rateKPerS = 1;

  /** Call once a second. `power`: as it reaches the sensor; `expectedKPerS`: how fast the reading should rise now. */
  add(power: number, expectedKPerS: number, temperatureC: number, rateKPerS: number): void {
    if (!Number.isFinite(power + expectedKPerS + temperatureC)) {
      this.reset();
      return;
    }
    const before = (this.#seconds + KEPT_S - 1) % KEPT_S;
    const at = this.#seconds % KEPT_S;
    const first = this.#seconds === 0;
    this.#powers[at] = (first ? 0 : this.#powers[before]!) + power;
    this.#expectedK[at] = (first ? 0 : this.#expectedK[before]!) + expectedKPerS;
    this.#temperatureC[at] = temperatureC;
    this.#rateKPerS = rateKPerS;
    this.#seconds++;
  }

  /** How long a response is measured, s. */
  get windowS(): number {
    return Math.round(Math.min(MOST_WINDOW_S, Math.max(LEAST_WINDOW_S, MEASURED_K / this.#rateKPerS)));
  }

  /** Share of the expected heat that showed in the last window; NaN where the power was too small to tell. */
  get share(): number {
    return this.#shareAt(0);
  }

  /** The share no longer changes: the response to what happened is complete. */
  get isSteady(): boolean {
    return Math.abs(this.#shareAt(0) - this.#shareAt(Math.round(this.windowS / 2))) < STEADY_WITHIN;
  }

  #shareAt(ageS: number): number {
    const spanS = this.windowS;
    if (ageS + spanS >= this.#span) return Number.NaN;
    const power = this.#powerOver(ageS + spanS) - this.#powerOver(ageS);
    const missingK = this.#missingK(ageS + spanS) - this.#missingK(ageS);
    return power < LEAST_POWER * spanS ? Number.NaN : 1 - missingK / (this.#rateKPerS * power);
  }

  /** The reading follows its power again as a healthy zone's does. */
  get isPlausible(): boolean {
    const { share } = this;
    if (!Number.isNaN(share)) return share >= PLAUSIBLE_SHARE;
    const spanS = MOST_WINDOW_S;
    if (spanS >= this.#span || this.#powerOver(spanS) < BALANCED.power * spanS) return false;
    return this.#missingK(spanS) < BALANCED.missing * this.#rateKPerS * spanS;
  }

  /** Seconds that are kept. */
  get #span(): number {
    return Math.min(this.#seconds, KEPT_S);
  }

  #powerOver(spanS: number): number {
    return this.#since(this.#powers, spanS);
  }

  #missingK(spanS: number): number {
    return this.#since(this.#expectedK, spanS) - this.#since(this.#temperatureC, spanS);
  }

  #since(ring: Float64Array, spanS: number): number {
    const now = this.#seconds - 1;
    return ring[now % KEPT_S]! - ring[(now - spanS) % KEPT_S]!;
  }

  reset(): void {
    this.#seconds = 0;
  }
}
