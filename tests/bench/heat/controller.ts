/** How a line's own temperature controller of one zone is made and tuned. It belongs to the simulated line. */
export interface ControllerTuning {
  readonly kind: 'pid' | 'onOff';
  /** It looks at its sensor so often, s. */
  readonly periodS: number;
  readonly gainPerK: number;
  readonly integralTimeS: number;
  /** 0 = no derivative. */
  readonly derivativeTimeS: number;
  /** On/off: switches at ± this around the set-point, K. */
  readonly hysteresisK: number;
  /** The heater is switched fully on for a share of a window this long, s; 0 = smoothly. */
  readonly windowS: number;
}

/**
 * PID with conditional integration and a filtered derivative on the measurement, or on/off with hysteresis: textbook
 * methods, from memory.
 */
export class Controller {
  /** What it asks for, 0…1. */
  duty = 0;
  /** What the heater gets over this step: the duty itself, or the share of the step for which the switch is on. */
  drive = 0;
  /** The switch amid this step, 0 or 1; the duty itself where nothing switches. */
  switch = 0;
  readonly tuning: ControllerTuning;
  #integral = 0;
  #filteredC = Number.NaN;
  #sinceLookS = Number.POSITIVE_INFINITY;
  #inWindowS = 0;

  constructor(tuning: ControllerTuning) {
    this.tuning = tuning;
  }

  step(seconds: number, setpointC: number, readingC: () => number): void {
    const { periodS, windowS } = this.tuning;
    this.#sinceLookS += seconds;
    if (setpointC <= 0) this.#off();
    else if (this.#sinceLookS >= periodS - 1e-9) {
      this.#look(Math.min(this.#sinceLookS, periodS), setpointC, readingC());
      this.#sinceLookS = 0;
    }
    if (windowS === 0) {
      this.drive = this.duty;
      this.switch = this.duty;
      return;
    }
    this.#inWindowS += seconds;
    if (this.#inWindowS > windowS - seconds / 2) this.#inWindowS = 0;
    // A real switch is as fine as the mains' half-waves, far finer than a step.
    this.drive = Math.min(1, Math.max(0, (this.duty * windowS - this.#inWindowS) / seconds));
    this.switch = this.#inWindowS + seconds / 2 < this.duty * windowS ? 1 : 0;
  }

  #look(seconds: number, setpointC: number, readingC: number): void {
    // A controller that receives no number switches off.
    if (Number.isNaN(readingC)) {
      this.#off();
      return;
    }
    const errorK = setpointC - readingC;
    const { kind, gainPerK, integralTimeS, derivativeTimeS, hysteresisK } = this.tuning;
    if (kind === 'onOff') {
      if (errorK > hysteresisK) this.duty = 1;
      else if (errorK < -hysteresisK) this.duty = 0;
      return;
    }
    const before = this.#filteredC;
    const share = derivativeTimeS > 0 ? Math.min(1, (4 * seconds) / derivativeTimeS) : 1;
    this.#filteredC = Number.isNaN(before) ? readingC : before + (readingC - before) * share;
    const slope = Number.isNaN(before) ? 0 : (this.#filteredC - before) / seconds;
    const free = gainPerK * (errorK - derivativeTimeS * slope) + this.#integral;
    this.duty = Math.min(1, Math.max(0, free));
    const intoTheEnd = (free > 1 && errorK > 0) || (free < 0 && errorK < 0);
    if (!intoTheEnd) this.#integral += ((gainPerK * errorK) / integralTimeS) * seconds;
  }

  #off(): void {
    this.duty = 0;
    this.#integral = 0;
    this.#filteredC = Number.NaN;
    this.#sinceLookS = Number.POSITIVE_INFINITY;
  }

  /** The device restarts: all that it had found out is gone. */
  restart(): void {
    this.#off();
  }

  clone(): Controller {
    const copy = new Controller(this.tuning);
    copy.duty = this.duty;
    copy.drive = this.drive;
    copy.switch = this.switch;
    copy.#integral = this.#integral;
    copy.#filteredC = this.#filteredC;
    copy.#sinceLookS = this.#sinceLookS;
    copy.#inWindowS = this.#inWindowS;
    return copy;
  }
}
