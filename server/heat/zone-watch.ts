import { Drifting } from './drifting.ts';
import { ExpectedPast, type ExpectedThen } from './expected-past.ts';
import { FallingAway } from './falling-away.ts';
import { Frozen } from './frozen.ts';
import { COLD_BELOW_C } from './healthy-zone.ts';
import type { SlowRule, ZoneSituation } from './heat-rule.ts';
import { Jumping } from './jumping.ts';
import { Lateness } from './lateness.ts';
import { LearntZone } from './learnt-zone.ts';
import { NoRise } from './no-rise.ts';
import { Oscillating } from './oscillating.ts';
import { RisingWithoutPower } from './rising-without-power.ts';
import { type SensorEnd, SensorEnds } from './sensor-ends.ts';
import type { ThermalModel } from './thermal-model.ts';
import { BALANCE_FAULTS, UnexplainedHeat } from './unexplained-heat.ts';
import { doingOf } from './zone-doing.ts';
import { ZoneLearning } from './zone-learning.ts';
import { type ExpectedReading, HEAT_FAULTS, type HeatFault, type HeatLimits, type ZoneStatus } from './zone-status.ts';
import { ZoneTrace } from './zone-trace.ts';

/** In the band for so long counts as held, s. */
const HELD_S = 20;
/** The same where the power is not known. */
const HELD_BLIND_S = 90;
/** A set-point that moves by less is the same, K. */
const SAME_SETPOINT_K = 0.5;
/** Beyond the band by this before "at heat" ends, so that noise at its edge does not end it, K. */
const BAND_EDGE_K = 0.5;
/** Above the limit for as many ticks: one garbled line is no fire, and a shorted sensor is known by then. */
const OVER_LIMIT_TICKS = 3;

const SLOW_FAULTS = [
  'noRise',
  'fallingAway',
  'risingWithoutPower',
  'frozen',
  'jumping',
  'late',
  'oscillating',
  'drifting',
] as const satisfies HeatFault[];
type SlowFault = (typeof SLOW_FAULTS)[number];
/** What the others already explain. */
const CONSEQUENCES = ['late', 'oscillating', 'drifting'] as const;

const NO_FAULTS: readonly HeatFault[] = [];

/** Watches one zone: keeps its trace, runs the rules, tells its status. */
export class ZoneWatch implements ZoneSituation {
  readonly zone: number;
  readonly #trace = new ZoneTrace();
  readonly #learnt = new LearntZone();
  readonly #learning = new ZoneLearning();
  readonly #expectedPast = new ExpectedPast();
  #setpointC = Number.NaN;
  #setpointSteadyS = 0;
  #powerKnown = false;
  #held = false;
  #withinC = 5;
  #neighboursHotterK = 0;
  #neighboursColderK = 0;
  #armedHotS = Number.POSITIVE_INFINITY;
  #expected: ExpectedReading | null = null;
  readonly #balance = new UnexplainedHeat();
  readonly #ends = new SensorEnds();
  readonly #slow: Readonly<Record<SlowFault, SlowRule>> = {
    noRise: new NoRise(),
    fallingAway: new FallingAway(),
    risingWithoutPower: new RisingWithoutPower(),
    frozen: new Frozen(),
    jumping: new Jumping(),
    late: new Lateness(),
    oscillating: new Oscillating(),
    drifting: new Drifting(),
  };
  readonly #holds = new Set<HeatFault>();
  #powerBlurred = false;
  #sensorEnd: SensorEnd = null;
  #armed = false;
  #inBandS = 0;
  #inBand = false;
  #atHeatSinceMs: number | null = null;
  #overLimitTicks = 0;
  #faults = NO_FAULTS;
  #status: ZoneStatus;

  constructor(zone: number) {
    this.zone = zone;
    this.#status = {
      zone,
      doing: 'unknown',
      temperatureC: null,
      setpointC: null,
      power: null,
      faults: NO_FAULTS,
      atHeatSinceMs: null,
      expected: null,
    };
  }

  // ---- what the rules may look at ----

  get trace(): ZoneTrace {
    return this.#trace;
  }

  get learnt(): LearntZone {
    return this.#learnt;
  }

  get setpointC(): number {
    return this.#setpointC;
  }

  get setpointSteadyS(): number {
    return this.#setpointSteadyS;
  }

  get powerKnown(): boolean {
    return this.#powerKnown;
  }

  get held(): boolean {
    return this.#held;
  }

  get withinC(): number {
    return this.#withinC;
  }

  get neighboursHotterK(): number {
    return this.#neighboursHotterK;
  }

  get neighboursColderK(): number {
    return this.#neighboursColderK;
  }

  get armedHotS(): number {
    return this.#armedHotS;
  }

  get model(): ThermalModel | null {
    return this.#learning.model;
  }

  /** Goes on with what earlier evenings have taught; null forgets it. */
  takeModel(model: ThermalModel | null): void {
    this.#learning.take(model);
  }

  // ---- what it finds ----

  /** Where the reading was expected over the last ten minutes, oldest first. */
  expectedPast(): readonly ExpectedThen[] {
    return this.#expectedPast.values();
  }

  /** The status as last told; the same object while nothing in it changed. */
  get status(): ZoneStatus {
    return this.#status;
  }

  // ---- steps ----

  /** Every reading; NaN for what was not sent. */
  add(timeMs: number, temperatureC: number, setpointC: number, power: number, faultBits: number): void {
    this.#trace.add(timeMs, temperatureC, setpointC, power, faultBits);
  }

  /** What is fast: ends of the scale, the absolute limit, being at heat. A few times a second. */
  tick(limits: HeatLimits, timeMs: number): void {
    const trace = this.#trace;
    trace.closeTick();
    this.#withinC = limits.atHeatWithinC;
    if (trace.powerIsBlurred) this.#powerBlurred = true;
    this.#powerKnown = !this.#powerBlurred && (this.#powerKnown || !Number.isNaN(trace.power));
    const wanted = trace.setpointC > 0 || trace.power > 0.02;
    const end = this.#ends.judge(trace, limits, wanted, timeMs);
    if (end !== this.#sensorEnd) this.#sensorFaultChanged(end);
    const over = end === null && trace.rawC > limits.absoluteLimitC;
    this.#overLimitTicks = over ? this.#overLimitTicks + 1 : 0;
    this.#set('aboveAbsoluteLimit', this.#overLimitTicks >= OVER_LIMIT_TICKS);
    this.#followSetpoint();
    this.#followBand(timeMs, end !== null);
  }

  #sensorFaultChanged(end: SensorEnd): void {
    this.#sensorEnd = end;
    this.#set('sensorOpen', end === 'sensorOpen');
    this.#set('sensorShort', end === 'sensorShort');
    // A sensor that says nothing is the one cause; what it seemed to say before is no longer of use.
    this.#rearmSlow();
    this.#trace.forgetCourse();
    this.#held = false;
    this.#inBandS = 0;
  }

  #followSetpoint(): void {
    const { setpointC } = this.#trace;
    const same =
      Math.abs(setpointC - this.#setpointC) <= SAME_SETPOINT_K ||
      (Number.isNaN(setpointC) && Number.isNaN(this.#setpointC));
    if (same) return;
    this.#setpointC = setpointC;
    this.#setpointSteadyS = 0;
    this.#held = false;
    this.#inBandS = 0;
  }

  #followBand(timeMs: number, sensorFault: boolean): void {
    const { temperatureC } = this.#trace;
    const offK = Math.abs(temperatureC - this.#setpointC);
    const edge = this.#inBand ? BAND_EDGE_K : 0;
    this.#inBand = !sensorFault && this.#setpointC > 0 && offK <= this.#withinC + edge;
    if (!this.#inBand) this.#atHeatSinceMs = null;
    else this.#atHeatSinceMs ??= timeMs;
  }

  /**
   * What shows over seconds. Once a second, `seconds` of them since the last call; by how much the neighbours are hotter and
   * colder, each summed.
   */
  second(seconds: number, timeMs: number, neighboursHotterK: number, neighboursColderK: number): void {
    this.#neighboursHotterK = neighboursHotterK;
    this.#neighboursColderK = neighboursColderK;
    const trace = this.#trace;
    if (trace.seconds === 0 && !this.#armed && !Number.isNaN(trace.temperatureC)) {
      this.#armed = true;
      this.#armedHotS = trace.temperatureC > COLD_BELOW_C ? 0 : Number.POSITIVE_INFINITY;
    }
    this.#armedHotS += seconds;
    trace.closeSecond(seconds, this.#neighboursHotterK - this.#neighboursColderK);
    this.#setpointSteadyS += seconds;
    if (this.#sensorEnd !== null || Number.isNaN(trace.rawC)) return;
    if (this.#inBand) {
      this.#inBandS += seconds;
      if (this.#inBandS >= (this.#powerKnown ? HELD_S : HELD_BLIND_S)) this.#held = true;
      if (this.#held && this.#powerKnown) this.#learnt.learnHolding(trace);
    } else {
      this.#inBandS = 0;
      if (this.#powerKnown && trace.temperatureC < this.#setpointC) this.#learnt.learnHeating(trace);
    }
    const jumping = this.#slow.jumping.judge(this, timeMs);
    this.#set('jumping', jumping);
    this.#set('frozen', this.#slow.frozen.judge(this, timeMs));
    const { model } = this.#learning;
    if (this.#powerKnown && model !== null) this.#checkByModel(model, timeMs);
    else this.#checkByBounds(timeMs);
    this.#expected = this.#powerKnown && model !== null ? this.#balance.expected : null;
    this.#expectedPast.put(timeMs, this.#expected);
    const caused = this.#faults.some((fault) => fault !== 'late' && fault !== 'oscillating' && fault !== 'drifting');
    for (const fault of CONSEQUENCES) {
      const holds = this.#slow[fault].judge(this, timeMs);
      this.#set(fault, holds && !caused);
    }
    if (!this.#powerKnown) return;
    if (this.#faults.length > 0) this.#learning.breakOff();
    else this.#learning.second(trace, seconds, this.#inBand);
  }

  /** What a zone's own heat-ups have shown tells earlier and finer what is wrong with it than what any zone can do. */
  #checkByModel(model: ThermalModel, timeMs: number): void {
    // What a frozen reading says of the heat is worth nothing.
    if (this.#holds.has('frozen')) this.#balance.rearm();
    const found = this.#holds.has('frozen') ? null : this.#balance.judge(this, model, timeMs);
    for (const fault of BALANCE_FAULTS) this.#set(fault, fault === found);
  }

  #checkByBounds(timeMs: number): void {
    this.#set('noRise', this.#slow.noRise.judge(this, timeMs));
    this.#set('fallingAway', this.#slow.fallingAway.judge(this, timeMs));
    this.#set('risingWithoutPower', this.#slow.risingWithoutPower.judge(this, timeMs));
  }

  #set(fault: HeatFault, holds: boolean): void {
    if (holds === this.#holds.has(fault)) return;
    if (holds) this.#holds.add(fault);
    else this.#holds.delete(fault);
    this.#faults = HEAT_FAULTS.filter((name) => this.#holds.has(name));
  }

  /** Tells the status anew; true when it changed. */
  tell(): boolean {
    const trace = this.#trace;
    const shown = this.#sensorEnd === null && !Number.isNaN(trace.rawC);
    const temperatureC = shown ? orNull(trace.temperatureC) : null;
    const doing =
      this.#faults.length > 0
        ? 'faulty'
        : doingOf({
            temperatureC: temperatureC ?? Number.NaN,
            setpointC: this.#setpointC,
            power: this.#powerKnown ? trace.power : Number.NaN,
            inBand: this.#inBand,
            slopeKPerS:
              trace.seconds < 12 ? Number.NaN : (trace.meanTemperature(0, 2) - trace.meanTemperature(10, 2)) / 10,
          });
    const before = this.#status;
    const setpointC = orNull(trace.setpointC);
    const power = orNull(trace.power);
    if (
      before.doing === doing &&
      before.temperatureC === temperatureC &&
      before.setpointC === setpointC &&
      before.power === power &&
      before.faults === this.#faults &&
      before.expected === this.#expected &&
      before.atHeatSinceMs === this.#atHeatSinceMs
    )
      return false;
    this.#status = {
      zone: this.zone,
      doing,
      temperatureC,
      setpointC,
      power,
      faults: this.#faults,
      atHeatSinceMs: this.#atHeatSinceMs,
      expected: this.#expected,
    };
    return true;
  }

  #rearmSlow(): void {
    for (const fault of SLOW_FAULTS) {
      this.#slow[fault].rearm();
      this.#set(fault, false);
    }
    this.#balance.rearm();
    this.#expected = null;
    this.#set('sensorSlipped', false);
    this.#set('heaterWeak', false);
    this.#learning.breakOff();
  }

  /** After a gap or a restart nothing that was seen before says anything of now. */
  rearm(): void {
    this.#trace.rearm();
    this.#ends.rearm();
    this.#sensorEnd = null;
    this.#set('sensorOpen', false);
    this.#set('sensorShort', false);
    this.#set('aboveAbsoluteLimit', false);
    this.#overLimitTicks = 0;
    this.#rearmSlow();
    this.#armed = false;
    this.#setpointC = Number.NaN;
    this.#held = false;
    this.#inBandS = 0;
    this.#inBand = false;
    this.#atHeatSinceMs = null;
  }
}

function orNull(value: number): number | null {
  return Number.isFinite(value) ? value : null;
}
