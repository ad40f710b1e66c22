/** In the band for this long counts as held, s. */
const HELD_S = 20;
/** The same where the power is not known. */
const HELD_BLIND_S = 90;
/** Colder than this below its stated set-point, a zone may be switched off. */
const STATED_NEAR_K = 60;
/** A set-point that moves by no more than this counts as unchanged, K. */
const SAME_SETPOINT_K = 0.5;
/** "At heat" ends only this far outside the band, so that noise at its edge does not end it, K. */
const BAND_EDGE_K = 0.5;

/** Whether a zone is at its set-point, since when, and whether it has held it. Temperatures in °C, NaN = not known. */
export class SetpointBand {
  #setpointC = Number.NaN;
  /** Set-point from the settings while the zone is near it. */
  #statedC = Number.NaN;
  #steadyS = 0;
  #withinC = 5;
  #inBand = false;
  #inBandS = 0;
  #held = false;
  #sinceMs: number | null = null;

  /** As the line sends it. */
  get setpointC(): number {
    return this.#setpointC;
  }

  /** As the line sends it, else as the settings state it. */
  get shownSetpointC(): number {
    return Number.isNaN(this.#setpointC) ? this.#statedC : this.#setpointC;
  }

  /** Time since the set-point changed, s. */
  get steadyS(): number {
    return this.#steadyS;
  }

  get withinC(): number {
    return this.#withinC;
  }

  get inBand(): boolean {
    return this.#inBand;
  }

  /** The zone was in the band for a while since the set-point last changed. */
  get held(): boolean {
    return this.#held;
  }

  /** Epoch ms; null = not at temperature. */
  get atHeatSinceMs(): number | null {
    return this.#sinceMs;
  }

  /**
   * Follows the readings, a few times a second.
   *
   * A set-point from the settings says nothing about whether the zone is switched on. So it only tells whether a hot zone
   * is at temperature; no rule for faults uses it.
   */
  tick(now: {
    readonly timeMs: number;
    readonly temperatureC: number;
    readonly setpointC: number;
    readonly statedSetpointC: number;
    readonly withinC: number;
    readonly sensorFault: boolean;
  }): void {
    const { temperatureC } = now;
    this.#withinC = now.withinC;
    this.#followSetpoint(now.setpointC);
    const counts = Number.isNaN(this.#setpointC) && temperatureC > now.statedSetpointC - STATED_NEAR_K;
    this.#statedC = counts ? now.statedSetpointC : Number.NaN;
    const offK = Math.abs(temperatureC - this.shownSetpointC);
    const edge = this.#inBand ? BAND_EDGE_K : 0;
    this.#inBand = !now.sensorFault && this.shownSetpointC > 0 && offK <= this.#withinC + edge;
    if (!this.#inBand) this.#sinceMs = null;
    else this.#sinceMs ??= now.timeMs;
  }

  #followSetpoint(setpointC: number): void {
    const same =
      Math.abs(setpointC - this.#setpointC) <= SAME_SETPOINT_K ||
      (Number.isNaN(setpointC) && Number.isNaN(this.#setpointC));
    if (same) return;
    this.#setpointC = setpointC;
    this.#steadyS = 0;
    this.forgetHolding();
  }

  /** Counts the time that has passed, s. */
  passed(seconds: number): void {
    this.#steadyS += seconds;
  }

  /** Counts how long the zone has been in the band, s. */
  hold(seconds: number, powerKnown: boolean): void {
    this.#inBandS = this.#inBand ? this.#inBandS + seconds : 0;
    if (this.#inBandS >= (powerKnown ? HELD_S : HELD_BLIND_S)) this.#held = true;
  }

  forgetHolding(): void {
    this.#held = false;
    this.#inBandS = 0;
  }

  /** After a gap or a restart. */
  reset(): void {
    this.forgetHolding();
    this.#setpointC = Number.NaN;
    this.#inBand = false;
    this.#sinceMs = null;
  }
}
