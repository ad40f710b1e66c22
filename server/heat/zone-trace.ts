import { FASTEST_RATE_K_PER_S, LONGEST_DEAD_TIME_S, SHORTEST_DEAD_TIME_S } from './healthy-zone.ts';
import { PowerSwitch } from './power-switch.ts';
import { Stillness, type StillnessView } from './stillness.ts';

/** Length of the trace, s: a slow zone shows for minutes what its power was. */
export const TRACE_S = 240;

/** A larger step between two readings is no temperature change, however much time lies between them, K. */
const JUMP_K = 8;
/** A new level after a jump is believed once it has lasted this long, s. */
const BELIEVE_AFTER_S = 3;

/** Weight of one second: the spacing covers about the last ten. */
const SPACING_WEIGHT = 0.1;

/** A trace as rules see it: to look at, not to change. */
export type TraceView = Omit<
  ZoneTrace,
  'add' | 'closeTick' | 'closeSecond' | 'forgetPast' | 'reset' | 'powerIsBlurred' | 'stillness'
> & { readonly stillness: StillnessView };

/**
 * One zone's recent past: mean temperature and power of each second, for the last four minutes, in a ring. `add` takes the
 * readings. A value that the zone cannot have reached since the last believed one is left out, and counted as a jump,
 * until it has lasted for 3 s.
 */
export class ZoneTrace {
  readonly stillness = new Stillness();
  readonly #switch = new PowerSwitch();

  #seconds = 0;
  #temperatureC = Number.NaN;
  #rawC = Number.NaN;
  #setpointC = Number.NaN;
  #power = Number.NaN;
  #faultBits = 0;
  #lastValueMs = Number.NaN;
  #everValue = false;
  #jumps = 0;
  // Each second is written twice, one ring's length apart, so that any stretch of the past is contiguous.
  readonly #temperature = new Float64Array(2 * TRACE_S);
  readonly #powers = new Float64Array(2 * TRACE_S);
  readonly #neighbours = new Float64Array(2 * TRACE_S);
  /** Index of the latest second, in the upper half. */
  #head = TRACE_S;
  #believedC = Number.NaN;
  #believedMs = Number.NaN;
  #sumC = 0;
  #countC = 0;
  #secondSumC = 0;
  #secondCountC = 0;
  #spacingS = 1;
  #meanBend = 0;
  #bends = 0;
  #sumPower = 0;
  #countPower = 0;
  /** Bits common to all readings of this tick; -1 = none sent yet. */
  #bits = -1;

  /** Seconds in the ring since the last reset. */
  get seconds(): number {
    return this.#seconds;
  }

  /** Mean of the last tick that had a believable reading, °C; NaN = none yet. */
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

  /** Fault bits set in every reading of the last tick that carried any. */
  get faultBits(): number {
    return this.#faultBits;
  }

  /** Time of the last reading with a value, ms; NaN = none since the last reset. */
  get lastValueMs(): number {
    return this.#lastValueMs;
  }

  /** Whether any value ever came, even before the last reset. */
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
      this.#switch.add(power, this.#power);
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

  /** The power is sent as a switch that flips about as often as readings come, so that its mean is unknown. */
  get powerIsBlurred(): boolean {
    return this.#switch.isBlurred;
  }

  /** Resolution of a mean power, 0…1; 0 where the power is sent as a share. */
  get powerStep(): number {
    return this.#switch.step;
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
      // The return from an excursion is a jump too.
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

  /** Ends a tick: the readings since the last one give the current temperature and fault bits. */
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

  /**
   * Ends a second, or several where readings are further apart.
   * `neighboursK`: by how much the neighbours are hotter, summed, K.
   */
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
    }
    this.#spacingS += (times - this.#spacingS) * SPACING_WEIGHT;
    if (times === 1 && this.#seconds >= 3) this.#watchNoise();
  }

  /** Usual time between two seconds that have a reading, s: between them the temperature is not known. */
  get spacingS(): number {
    return this.#spacingS;
  }

  /** The curve of heated metal hardly bends within three seconds: the bend is noise. Mean square over about a minute. */
  #watchNoise(): void {
    const bend = this.#at(this.#temperature, 0) - 2 * this.#at(this.#temperature, 1) + this.#at(this.#temperature, 2);
    if (!(Math.abs(bend) < JUMP_K)) return;
    this.#bends++;
    this.#meanBend += (bend * bend - this.#meanBend) / Math.min(this.#bends, 60);
  }

  /**
   * Standard deviation of a mean of three seconds, K: from second differences (six times the variance of white noise), which
   * the mean makes smaller, and from the sensor's resolution, which it does not: all of them may be rounded alike.
   */
  get noiseK(): number {
    return Math.hypot(Math.sqrt(this.#meanBend / 18), this.stillness.resolutionK / Math.sqrt(12));
  }

  #put(ring: Float64Array, value: number): void {
    ring[this.#head] = value;
    ring[this.#head - TRACE_S] = value;
  }

  /** `age` in s, less than the ring's length. Seconds before the last reset are not erased: check `seconds` first. */
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

  /** By how much the neighbours were hotter, summed, K: mean of `span` whole seconds that ended `age` s ago. */
  meanNeighbours(age: number, span: number): number {
    return this.#mean(this.#neighbours, age, span);
  }

  /** Power of the whole second that ended `age` s ago, 0…1. */
  powerAt(age: number): number {
    return this.#at(this.#powers, age);
  }

  /** Power of each whole second, oldest first, 0…1; overwritten as the trace goes on. */
  get powers(): Float64Array {
    return this.#powers.subarray(this.#head - this.#seconds + 1, this.#head + 1);
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

  /**
   * Least power, as a mean of 2 s, that the temperature `age` s ago can have been a response to, whatever the delay up to
   * `longestS`, 0…1; NaN until the trace is long enough.
   */
  leastPowerBehind(age: number, longestS: number = LONGEST_DEAD_TIME_S): number {
    if (this.#seconds < age + longestS + 4) return Number.NaN;
    let least = Number.POSITIVE_INFINITY;
    for (let at = age + SHORTEST_DEAD_TIME_S; at <= age + longestS; at += 2) {
      least = Math.min(least, (this.#at(this.#powers, at) + this.#at(this.#powers, at + 1)) / 2);
    }
    return least;
  }

  /** Forgets the past, but not what was last sent. */
  forgetPast(): void {
    this.#seconds = 0;
    this.#believedC = Number.NaN;
    this.#believedMs = Number.NaN;
    this.#temperatureC = Number.NaN;
    this.#faultBits = 0;
    this.#bits = -1;
    this.#sumC = 0;
    this.#countC = 0;
    this.#secondSumC = 0;
    this.#secondCountC = 0;
    this.#sumPower = 0;
    this.#countPower = 0;
    this.#switch.interrupt();
    this.stillness.reset();
  }

  /** After a gap or a restart, earlier readings say nothing about the present. */
  reset(): void {
    this.forgetPast();
    this.#lastValueMs = Number.NaN;
    this.#rawC = Number.NaN;
    this.#setpointC = Number.NaN;
    this.#power = Number.NaN;
  }
}
