import { Drifting } from './drifting.ts';
import { ExpectedPast, type ExpectedThen } from './expected-past.ts';
import { type FaultVisibility, faultVisibility } from './fault-visibility.ts';
import { Frozen } from './frozen.ts';
import { COLD_BELOW_C, LONGEST_DEAD_TIME_S } from './healthy-zone.ts';
import type { SlowRule, ZoneSituation } from './heat-rule.ts';
import { Jumping } from './jumping.ts';
import { Lateness } from './lateness.ts';
import { LearntZone, type ZoneResponse } from './learnt-zone.ts';
import { LosingTemperature } from './losing-temperature.ts';
import { NoRise } from './no-rise.ts';
import { Oscillating } from './oscillating.ts';
import { RisingWithoutPower } from './rising-without-power.ts';
import { type SensorEnd, SensorEnds } from './sensor-ends.ts';
import { SetpointBand } from './setpoint-band.ts';
import type { ThermalModel } from './thermal-model.ts';
import { BALANCE_FAULTS, UnexplainedHeat } from './unexplained-heat.ts';
import { ZoneLearning } from './zone-learning.ts';
import {
  doingOf,
  type ExpectedReading,
  HEAT_FAULTS,
  type HeatFault,
  type HeatLimits,
  type ZoneStatus,
} from './zone-status.ts';
import { type TraceView, ZoneTrace } from './zone-trace.ts';

/** For a zone that is off, the visibility of faults is computed at this temperature (common practice, no source), °C. */
const USUAL_SETPOINT_C = 200;
/** Ticks above the limit: one garbled line must not raise it, and a shorted sensor is recognised by then. */
const OVER_LIMIT_TICKS = 3;

const SLOW_FAULTS = [
  'noRise',
  'losingTemperature',
  'risingWithoutPower',
  'frozen',
  'jumping',
  'late',
  'oscillating',
  'drifting',
] as const satisfies HeatFault[];
type SlowFault = (typeof SLOW_FAULTS)[number];
/** Follow from any other fault, and are reported only where there is none. */
const CONSEQUENCES = ['late', 'oscillating', 'drifting'] as const satisfies SlowFault[];
/** The slopes that tell what a zone is doing are measured over these, s. */
const SLOPE_S = 10;
const SLOW_SLOPE_S = 60;

const NO_FAULTS: readonly HeatFault[] = [];

/** Watches one zone: keeps its trace, runs the rules and maintains its status. */
export class ZoneWatch {
  readonly zone: number;
  readonly #trace = new ZoneTrace();
  readonly #learnt = new LearntZone();
  readonly #learning = new ZoneLearning();
  readonly #expectedPast = new ExpectedPast();
  readonly #balance = new UnexplainedHeat();
  readonly #ends = new SensorEnds();
  readonly #band = new SetpointBand();
  readonly #slow: Readonly<Record<SlowFault, SlowRule>> = {
    noRise: new NoRise(),
    losingTemperature: new LosingTemperature(),
    risingWithoutPower: new RisingWithoutPower(),
    frozen: new Frozen(),
    jumping: new Jumping(),
    late: new Lateness(),
    oscillating: new Oscillating(),
    drifting: new Drifting(),
  };
  readonly #holds = new Set<HeatFault>();
  #powerKnown = false;
  #powerBlurred = false;
  #hotStartAgoS = Number.POSITIVE_INFINITY;
  #expected: ExpectedReading | null = null;
  #sensorEnd: SensorEnd = null;
  #started = false;
  #overLimitTicks = 0;
  #faults = NO_FAULTS;
  #status: ZoneStatus;
  /** What was last calculated of the visibility of faults, and from what. */
  #visibility: { model: ThermalModel; atC: number; noiseK: number; value: FaultVisibility } | null = null;

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

  /** °C; NaN = no believable reading yet. */
  get temperatureC(): number {
    return this.#trace.temperatureC;
  }

  /** How the zone has responded to its power; null = it has not yet. */
  get response(): ZoneResponse | null {
    const { model } = this;
    if (model === null) return this.#learnt.response;
    const lastsS = model.deadTimeS + SETTLED_LAGS * (model.lagS + model.secondLagS);
    return { rateKPerS: model.rateKPerS, lastsS: Math.max(LONGEST_DEAD_TIME_S, Math.round(lastsS)) };
  }

  /** null = nothing learnt yet. */
  get model(): ThermalModel | null {
    return this.#learning.model;
  }

  /** How soon faults of this zone can be seen, at its set-point or where it is now; null = nothing learnt yet. */
  visibility(): FaultVisibility | null {
    const { model } = this;
    if (model === null || !this.#powerKnown) return null;
    const { setpointC } = this.#band;
    const atC = Math.round(setpointC > 0 ? setpointC : USUAL_SETPOINT_C);
    const noiseK = Math.round(20 * this.#trace.noiseK) / 20;
    const known = this.#visibility;
    if (known?.model === model && known.atC === atC && known.noiseK === noiseK) return known.value;
    const value = faultVisibility(model, atC, noiseK);
    this.#visibility = { model, atC, noiseK, value };
    return value;
  }

  /** Starts from a model learnt earlier; null forgets it. */
  setModel(model: ThermalModel | null): void {
    this.#learning.setModel(model);
  }

  /** Where the reading was expected over the last ten minutes, oldest first. */
  expectedPast(): readonly ExpectedThen[] {
    return this.#expectedPast.values();
  }

  /** The same object until something in it changes. */
  get status(): ZoneStatus {
    return this.#status;
  }

  /** Takes every reading; NaN = not sent. */
  add(timeMs: number, temperatureC: number, setpointC: number, power: number, faultBits: number): void {
    this.#trace.add(timeMs, temperatureC, setpointC, power, faultBits);
  }

  /** Checks what shows at once, a few times a second: ends of the scale, the absolute limit, whether the zone is at temperature. */
  tick(limits: HeatLimits, timeMs: number): void {
    const trace = this.#trace;
    trace.closeTick();
    if (trace.powerIsBlurred) this.#powerBlurred = true;
    this.#powerKnown = !this.#powerBlurred && (this.#powerKnown || !Number.isNaN(trace.power));
    const wanted = trace.setpointC > 0 || trace.power > 0.02;
    const end = this.#ends.check(trace, limits, wanted, timeMs);
    if (end !== this.#sensorEnd) this.#sensorFaultChanged(end);
    const over = end === null && trace.rawC > limits.absoluteLimitC;
    this.#overLimitTicks = over ? this.#overLimitTicks + 1 : 0;
    this.#set('aboveAbsoluteLimit', this.#overLimitTicks >= OVER_LIMIT_TICKS);
    this.#band.tick({
      timeMs,
      temperatureC: trace.temperatureC,
      setpointC: trace.setpointC,
      statedSetpointC: limits.setpointsC?.[this.zone - 1] ?? Number.NaN,
      withinC: limits.atHeatWithinC,
      sensorFault: end !== null,
    });
  }

  #sensorFaultChanged(end: SensorEnd): void {
    this.#sensorEnd = end;
    this.#set('sensorOpen', end === 'sensorOpen');
    this.#set('sensorShort', end === 'sensorShort');
    // A broken sensor explains all other faults, and its earlier readings are of no use.
    this.#resetSlow();
    this.#trace.forgetPast();
    this.#band.forgetHolding();
  }

  /**
   * Checks what takes seconds to show. Called once a second; `seconds` have passed since the last call. By how much the
   * neighbours are hotter and colder, each summed, K. `elsewhere`: how slowly the other zones respond.
   */
  second(
    seconds: number,
    timeMs: number,
    neighboursHotterK: number,
    neighboursColderK: number,
    elsewhere: ZoneResponse | null,
  ): void {
    const trace = this.#trace;
    if (trace.seconds === 0 && !this.#started && !Number.isNaN(trace.temperatureC)) {
      this.#started = true;
      this.#hotStartAgoS = trace.temperatureC > COLD_BELOW_C ? 0 : Number.POSITIVE_INFINITY;
    }
    this.#hotStartAgoS += seconds;
    trace.closeSecond(seconds, neighboursHotterK - neighboursColderK);
    this.#band.passed(seconds);
    if (this.#sensorEnd !== null || Number.isNaN(trace.rawC)) return;
    this.#followHolding(seconds);
    const situation: ZoneSituation = {
      trace,
      learnt: this.#learnt,
      elsewhere,
      slowness: slownessOf(this.response),
      model: this.#learning.model,
      setpointC: this.#band.setpointC,
      setpointSteadyS: this.#band.steadyS,
      powerKnown: this.#powerKnown,
      held: this.#band.held,
      withinC: this.#band.withinC,
      neighboursHotterK,
      neighboursColderK,
      hotStartAgoS: this.#hotStartAgoS,
    };
    this.#checkRules(situation, timeMs);
    if (!this.#powerKnown) return;
    if (this.#faults.length > 0) this.#learning.abandon();
    else this.#learning.second(trace, seconds, this.#band.inBand);
  }

  #followHolding(seconds: number): void {
    this.#band.hold(seconds, this.#powerKnown);
    if (!this.#powerKnown || this.#faults.length > 0) return;
    if (!this.#band.inBand) {
      if (this.#trace.temperatureC < this.#band.setpointC) this.#learnt.learnHeating(this.#trace);
    } else if (this.#band.held) this.#learnt.learnHolding(this.#trace);
  }

  #checkRules(zone: ZoneSituation, timeMs: number): void {
    this.#setSlow('jumping', zone, timeMs);
    this.#setSlow('frozen', zone, timeMs);
    const model = zone.powerKnown ? zone.model : null;
    if (model !== null) this.#checkByModel(zone, model, timeMs);
    else
      for (const fault of ['noRise', 'losingTemperature', 'risingWithoutPower'] as const)
        this.#setSlow(fault, zone, timeMs);
    this.#expected = model !== null ? this.#balance.expected : null;
    this.#expectedPast.put(timeMs, this.#expected);
    const explained = this.#faults.some((fault) => !CONSEQUENCES.some((one) => one === fault));
    for (const fault of CONSEQUENCES) {
      // Every rule must see every second, even where its fault is not reported.
      const holds = this.#slow[fault].check(zone, timeMs);
      this.#set(fault, holds && !explained);
    }
  }

  /** A model learnt from the zone's own heat-ups finds faults earlier, and smaller ones, than the bounds of any healthy zone. */
  #checkByModel(zone: ZoneSituation, model: ThermalModel, timeMs: number): void {
    // A frozen reading says nothing about the heat, but a fault that was found before stays.
    const frozen = this.#holds.has('frozen') && !this.#balance.isActive;
    if (frozen) this.#balance.reset();
    const found = frozen ? null : this.#balance.check(zone, model, timeMs);
    for (const fault of BALANCE_FAULTS) this.#set(fault, fault === found);
  }

  #setSlow(fault: SlowFault, zone: ZoneSituation, timeMs: number): void {
    this.#set(fault, this.#slow[fault].check(zone, timeMs));
  }

  #set(fault: HeatFault, holds: boolean): void {
    if (holds === this.#holds.has(fault)) return;
    if (holds) this.#holds.add(fault);
    else this.#holds.delete(fault);
    this.#faults = HEAT_FAULTS.filter((name) => this.#holds.has(name));
  }

  /** Brings the status up to date; true = it changed. */
  updateStatus(): boolean {
    const trace = this.#trace;
    const shown = this.#sensorEnd === null && !Number.isNaN(trace.rawC);
    const temperatureC = shown ? orNull(trace.temperatureC) : null;
    const doing =
      this.#faults.length > 0
        ? 'faulty'
        : doingOf({
            temperatureC: temperatureC ?? Number.NaN,
            setpointC: this.#band.shownSetpointC,
            power: this.#powerKnown ? trace.power : Number.NaN,
            inBand: this.#band.inBand,
            slopeKPerS: slopeOver(trace, SLOPE_S),
            slowSlopeKPerS: slopeOver(trace, Math.max(SLOPE_S, Math.min(SLOW_SLOPE_S, trace.seconds - 2))),
            setpointIsNew: this.#band.steadyS < SLOW_SLOPE_S,
          });
    const before = this.#status;
    const setpointC = orNull(Number.isNaN(trace.setpointC) ? this.#band.shownSetpointC : trace.setpointC);
    const power = orNull(trace.power);
    if (
      before.doing === doing &&
      before.temperatureC === temperatureC &&
      before.setpointC === setpointC &&
      before.power === power &&
      before.faults === this.#faults &&
      before.expected === this.#expected &&
      before.atHeatSinceMs === this.#band.atHeatSinceMs
    )
      return false;
    this.#status = {
      zone: this.zone,
      doing,
      temperatureC,
      setpointC,
      power,
      faults: this.#faults,
      atHeatSinceMs: this.#band.atHeatSinceMs,
      expected: this.#expected,
    };
    return true;
  }

  #resetSlow(): void {
    for (const fault of SLOW_FAULTS) {
      this.#slow[fault].reset();
      this.#set(fault, false);
    }
    this.#balance.reset();
    this.#expected = null;
    this.#set('sensorSlipped', false);
    this.#set('heaterWeak', false);
    this.#learning.abandon();
  }

  /** After a gap or a restart, earlier readings say nothing about the present. */
  reset(): void {
    this.#trace.reset();
    this.#ends.reset();
    this.#sensorEnd = null;
    this.#set('sensorOpen', false);
    this.#set('sensorShort', false);
    this.#set('aboveAbsoluteLimit', false);
    this.#overLimitTicks = 0;
    this.#resetSlow();
    this.#started = false;
    this.#band.reset();
  }
}

/** Lags after which a response is nearly complete. */
const SETTLED_LAGS = 1.2;
/** A usual zone responds within this time, s; no zone counts as slower than four times that. */
const USUAL_RESPONSE_S = 30;
const MOST_SLOWNESS = 4;

function slownessOf(response: ZoneResponse | null): number {
  return Math.min(MOST_SLOWNESS, Math.max(1, (response?.lastsS ?? 0) / USUAL_RESPONSE_S));
}

function slopeOver(trace: TraceView, seconds: number): number {
  if (trace.seconds < seconds + 2) return Number.NaN;
  return (trace.meanTemperature(0, 2) - trace.meanTemperature(seconds, 2)) / seconds;
}

function orNull(value: number): number | null {
  return Number.isFinite(value) ? value : null;
}
