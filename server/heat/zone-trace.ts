import { FASTEST_RATE_K_PER_S } from './healthy-zone.ts';
import { Stillness } from './stillness.ts';

/** Seconds of the past that rules may look at. */
export const TRACE_S = 96;

/** Steps larger than this between two readings are no temperature change, whatever the time between, K. */
const JUMP_K = 8;
/** Of the last hundred readings or so. */
const SWITCH_MEMORY = 0.01;
/** Of the last ten switching windows or so. */
const CYCLE_MEMORY = 0.1;
/** More flips a reading than this: fewer than eight readings a switching window. */
const BLURRED_FLIPS = 0.25;

/** A new level after a jump is believed once it has stayed for this long, s. */
const BELIEVE_AFTER_S = 3;

/**
 * One zone's recent past: one mean of temperature and power a second, for the last 96 s, in a ring. Readings come in by
 * `add`; a value that a zone cannot have reached since the last believed one is left out (and counted as a jump) until
 * it has stayed for 3 s.
 */
export class ZoneTrace {
  readonly stillness = new Stillness();

  #seconds = 0;
  #temperatureC = Number.NaN;
  #rawC = Number.NaN;
  #setpointC = Number.NaN;
  #power = Number.NaN;
  #faultBits = 0;
  #lastValueMs = Number.NaN;
  #everValue = false;
  #jumps = 0;
  // Each second is written twice, one ring's length apart: any stretch of the past then lies in one piece.
  readonly #temperature = new Float64Array(2 * TRACE_S);
  readonly #powers = new Float64Array(2 * TRACE_S);
  readonly #neighbours = new Float64Array(2 * TRACE_S);
  readonly #leastPower = new Float64Array(2 * TRACE_S);
  /** Where the youngest second lies, in the upper half. */
  #head = TRACE_S;
  #believedC = Number.NaN;
  #believedMs = Number.NaN;
  #sumC = 0;
  #countC = 0;
  #secondSumC = 0;
  #secondCountC = 0;
  #meanBend = 0;
  #bends = 0;
  /** Shares of the last readings whose power was 0 or 1, and another one than before. */
  #switchShare = 0;
  #flipShare = 0;
  /** Readings from one switching on to the next; 0 = not seen. And those since the last one; NaN = none yet. */
  #cycleReadings = 0;
  #sinceOn = Number.NaN;
  #sumPower = 0;
  #countPower = 0;
  #bits = -1;

  /** Seconds in the ring since the last re-arming. */
  get seconds(): number {
    return this.#seconds;
  }

  /** Mean of the readings since the last `closeTick`, °C; the one before where nothing believable came; NaN = never. */
  get temperatureC(): number {
    return this.#temperatureC;
  }

  /** As last sent, °C; NaN = not sent. */
  get rawC(): number {
    return this.#rawC;
  }

  /** As last sent, °C; NaN = not sent. */
  get setpointC(): number {
    return this.#setpointC;
  }

  /** As last sent, 0…1; NaN = not sent. */
  get power(): number {
    return this.#power;
  }

  /** Fault bits that came with every reading since the last tick that carried any. */
  get faultBits(): number {
    return this.#faultBits;
  }

  /** Time of the last reading with a value, ms; NaN = none since arming. */
  get lastValueMs(): number {
    return this.#lastValueMs;
  }

  /** A value came since the trace exists (not only since arming). */
  get everValue(): boolean {
    return this.#everValue;
  }

  /** Jumps so far. */
  get jumps(): number {
    return this.#jumps;
  }

  /** NaN for what was not sent. */
  add(timeMs: number, temperatureC: number, setpointC: number, power: number, faultBits: number): void {
    if (faultBits >= 0) {
      this.#bits = this.#bits < 0 ? faultBits : this.#bits & faultBits;
    }
    if (!Number.isNaN(setpointC)) this.#setpointC = setpointC;
    if (!Number.isNaN(power)) {
      this.#watchSwitch(power);
      this.#power = power;
      this.#sumPower += power;
      this.#countPower++;
    }
    if (Number.isNaN(temperatureC)) return;
    this.stillness.add(temperatureC, timeMs);
    if (!this.#believe(temperatureC, timeMs)) return;
    this.#sumC += temperatureC;
    this.#countC++;
  }

  #watchSwitch(power: number): void {
    this.#sinceOn++;
    if (power === 1 && this.#power === 0) {
      const share = this.#cycleReadings > 0 ? CYCLE_MEMORY : 1;
      if (!Number.isNaN(this.#sinceOn)) this.#cycleReadings += (this.#sinceOn - this.#cycleReadings) * share;
      this.#sinceOn = 0;
    }
    this.#switchShare += ((power === 0 || power === 1 ? 1 : 0) - this.#switchShare) * SWITCH_MEMORY;
    this.#flipShare += ((Math.abs(power - this.#power) === 1 ? 1 : 0) - this.#flipShare) * SWITCH_MEMORY;
  }

  /**
   * What comes as power is a switch that goes on and off about as often as the line sends: what it does between two readings
   * is not known, so the power is not.
   */
  get powerIsBlurred(): boolean {
    return this.#switchShare > 0.9 && this.#flipShare > BLURRED_FLIPS;
  }

  /**
   * How finely a mean of the power tells the share that is on, 0…1: a switch of so many readings a window tells it in as
   * many steps, the same in every window. 0 where the share itself is sent.
   */
  get powerStep(): number {
    return this.#switchShare > 0.9 && this.#cycleReadings > 0 ? 1 / this.#cycleReadings : 0;
  }

  #believe(temperatureC: number, timeMs: number): boolean {
    const sinceS = (timeMs - this.#believedMs) / 1000;
    const before = this.#rawC;
    this.#everValue = true;
    this.#lastValueMs = timeMs;
    this.#rawC = temperatureC;
    if (Number.isNaN(this.#believedC)) {
      this.#believedC = temperatureC;
      this.#believedMs = timeMs;
      return true;
    }
    const step = Math.abs(temperatureC - this.#believedC);
    if (step <= JUMP_K + FASTEST_RATE_K_PER_S * Math.min(sinceS, 10)) {
      // The way back from an excursion is a jump too.
      if (Math.abs(temperatureC - before) > JUMP_K && sinceS < 10) this.#jumps++;
      this.#believedC = temperatureC;
      this.#believedMs = timeMs;
      return true;
    }
    if (Math.abs(temperatureC - before) > JUMP_K) this.#jumps++;
    if (sinceS < BELIEVE_AFTER_S) return false;
    this.#believedC = temperatureC;
    this.#believedMs = timeMs;
    return true;
  }

  /** Ends a tick: what came since the last one becomes the current temperature and the current fault bits. */
  closeTick(): void {
    if (this.#countC > 0) {
      this.#temperatureC = this.#sumC / this.#countC;
      this.#secondSumC += this.#sumC;
      this.#secondCountC += this.#countC;
      this.#sumC = 0;
      this.#countC = 0;
    }
    if (this.#bits >= 0) this.#faultBits = this.#bits;
    this.#bits = -1;
  }

  /** Ends a second, `times` of them where readings are further apart; `neighboursK`: how much hotter the neighbours are, summed, K. */
  closeSecond(times: number, neighboursK: number): void {
    const temperature = this.#secondCountC > 0 ? this.#secondSumC / this.#secondCountC : this.#temperatureC;
    const power = this.#countPower > 0 ? this.#sumPower / this.#countPower : this.#power;
    this.#secondSumC = 0;
    this.#secondCountC = 0;
    this.#sumPower = 0;
    this.#countPower = 0;
    for (let i = Math.min(times, TRACE_S); i > 0; i--) {
      this.#head = this.#head + 1 < 2 * TRACE_S ? this.#head + 1 : TRACE_S;
      this.#put(this.#temperature, temperature);
      this.#put(this.#powers, power);
      this.#put(this.#neighbours, neighboursK);
      this.#seconds = Math.min(this.#seconds + 1, TRACE_S);
      this.#put(this.#leastPower, this.#findLeastPower());
    }
    if (times === 1 && this.#seconds >= 3) this.#watchNoise();
  }

  /** Heated metal hardly bends its curve within three seconds: what bends there is noise. Root mean square over a minute or so. */
  #watchNoise(): void {
    const bend = this.#at(this.#temperature, 0) - 2 * this.#at(this.#temperature, 1) + this.#at(this.#temperature, 2);
    if (!(Math.abs(bend) < JUMP_K)) return;
    this.#bends++;
    this.#meanBend += (bend * bend - this.#meanBend) / Math.min(this.#bends, 60);
  }

  /** Standard deviation of one second's mean, K: from its bends (their variance is six times that of white noise), and the sensor's steps. */
  get noiseK(): number {
    return Math.hypot(Math.sqrt(this.#meanBend / 6), this.stillness.resolutionK / Math.sqrt(12));
  }

  /**
   * The least power, as a mean of 2 s, that any dead time between the shortest and the longest could be answering to now. NaN until
   * the trace is long enough.
   */
  #findLeastPower(): number {
    if (this.#seconds < 26) return Number.NaN;
    let least = Number.POSITIVE_INFINITY;
    for (let age = 2; age <= 22; age += 2) {
      least = Math.min(least, (this.#at(this.#powers, age) + this.#at(this.#powers, age + 1)) / 2);
    }
    return least;
  }

  #put(ring: Float64Array, value: number): void {
    ring[this.#head] = value;
    ring[this.#head - TRACE_S] = value;
  }

  /** `age` less than the ring is long, s; what lies before the last re-arming is not wiped: ask `seconds` first. */
  #at(ring: Float64Array, age: number): number {
    return ring[this.#head - age] ?? Number.NaN;
  }

  #mean(ring: Float64Array, age: number, span: number): number {
    const youngest = this.#head - age;
    let sum = 0;
    for (let at = youngest; at > youngest - span; at--) sum += ring[at] ?? Number.NaN;
    return sum / span;
  }

  /** Mean temperature of `span` whole seconds that ended `age` s ago, °C. */
  meanTemperature(age: number, span: number): number {
    return this.#mean(this.#temperature, age, span);
  }

  /** Mean power of `span` whole seconds that ended `age` s ago, 0…1. */
  meanPower(age: number, span: number): number {
    return this.#mean(this.#powers, age, span);
  }

  /** Mean of the kelvins by which the neighbours were hotter, summed, over `span` whole seconds that ended `age` s ago. */
  meanNeighbours(age: number, span: number): number {
    return this.#mean(this.#neighbours, age, span);
  }

  /** Power of the whole second that ended `age` s ago, 0…1. */
  powerAt(age: number): number {
    return this.#at(this.#powers, age);
  }

  /** Greatest power of a whole second within the last `span` s. */
  greatestPower(span: number): number {
    let greatest = Number.NEGATIVE_INFINITY;
    for (let i = 0; i < Math.min(span, this.#seconds); i++) greatest = Math.max(greatest, this.#at(this.#powers, i));
    return greatest;
  }

  /** Smallest power of a whole second within the last `span` s. */
  smallestPower(span: number): number {
    let smallest = Number.POSITIVE_INFINITY;
    for (let i = 0; i < Math.min(span, this.#seconds); i++) smallest = Math.min(smallest, this.#at(this.#powers, i));
    return smallest;
  }

  /** The least power that the temperature `age` s ago could have been answering to, 0…1. */
  leastPowerBehind(age: number): number {
    return this.#at(this.#leastPower, age);
  }

  /** Forgets how the temperature came about, but not what was sent last. */
  forgetCourse(): void {
    const setpointC = this.#setpointC;
    const power = this.#power;
    const lastValueMs = this.#lastValueMs;
    const rawC = this.#rawC;
    this.rearm();
    this.#setpointC = setpointC;
    this.#power = power;
    this.#lastValueMs = lastValueMs;
    this.#rawC = rawC;
  }

  /** Forgets the past: after a gap or a restart nothing before says anything of now. */
  rearm(): void {
    this.#seconds = 0;
    this.#believedC = Number.NaN;
    this.#believedMs = Number.NaN;
    this.#lastValueMs = Number.NaN;
    this.#rawC = Number.NaN;
    this.#temperatureC = Number.NaN;
    this.#setpointC = Number.NaN;
    this.#power = Number.NaN;
    this.#sinceOn = Number.NaN;
    this.#faultBits = 0;
    this.#bits = -1;
    this.#sumC = 0;
    this.#countC = 0;
    this.#secondSumC = 0;
    this.#secondCountC = 0;
    this.#sumPower = 0;
    this.#countPower = 0;
    this.stillness.rearm();
  }
}
