import type { Layout, Reading } from '../../server/reading/reading.ts';
import { zoneLayout } from './zone-layout.ts';

/**
 * A small model of heated zones for these tests: first order with dead time, conduction between neighbours, a PI or an on/off
 * controller, and a sensor with noise and resolution. Parameters are scattered by seed over common practice (no source):
 * 0.3–1.5 K/s at full power from cold, dead time 5–20 s, steady power 0.15–0.5 at the set-point.
 */

export interface ZoneParameters {
  /** Rise at full power from cold, K/s. */
  readonly rateKPerS: number;
  /** Power that holds 200 °C. */
  readonly steadyPower: number;
  readonly deadTimeS: number;
  readonly couplingPerS: number;
  readonly gainPerK: number;
  readonly integralPerKS: number;
  readonly onOff: boolean;
}

export interface LineParameters {
  readonly zones: readonly ZoneParameters[];
  readonly roomC: number;
  readonly ratePerS: number;
  /** Standard deviation of one reading, K. */
  readonly noiseK: number;
  /** 0 = prints hundredths. */
  readonly resolutionK: number;
  readonly sendsPower: boolean;
}

export function scattered(
  random: () => number,
  over: Partial<LineParameters> & { readonly onOff?: boolean } = {},
): LineParameters {
  const between = (low: number, high: number) => low + (high - low) * random();
  const zones = [0, 1, 2].map(() => {
    const rateKPerS = between(0.3, 1.5);
    const deadTimeS = between(5, 20);
    // A careful tuning: gain and integral from rate and dead time (lambda tuning, closed loop of two dead times).
    const gainPerK = between(0.6, 1.1) / (rateKPerS * 3 * deadTimeS);
    return {
      rateKPerS,
      steadyPower: between(0.15, 0.5),
      deadTimeS,
      couplingPerS: between(0, 1 / 900),
      gainPerK,
      integralPerKS: gainPerK / between(100, 300),
      onOff: over.onOff ?? random() < 0.15,
    };
  });
  return {
    zones,
    roomC: between(12, 30),
    ratePerS: [50, 10, 5, 2][Math.floor(random() * 4)] ?? 10,
    noiseK: between(0, 0.25),
    resolutionK: [0, 0, 0.25, 1][Math.floor(random() * 4)] ?? 0,
    sendsPower: true,
    ...over,
  };
}

/** Faults and loads of a zone while it runs. */
export interface Meddling {
  heaterDead?: boolean;
  /** Share of its heat that the heater still gives. */
  heaterShare?: number;
  stuckOn?: boolean;
  /** The sensor feels room air through a time constant instead of the zone, s. */
  slippedTauS?: number;
  /** The sensor reports this whatever the temperature. */
  sensorReads?: number;
  /** The sensor keeps reporting its last value. */
  frozen?: boolean;
  /** A loose contact disturbs the reading for up to 0.6 s, on average once in this time, s. */
  looseEveryS?: number;
  faultBits?: number;
  /** Extra loss, as a share of full power (cold stock, a fan). */
  loss?: number;
}

interface ZoneState {
  temperatureC: number;
  sensorC: number;
  integral: number;
  power: number;
  switchedOn: boolean;
  delayed: number[];
  reportedC: number;
  looseUntilS: number;
  looseByK: number;
}

const STEP_S = 0.1;

export class ModelLine {
  readonly parameters: LineParameters;
  readonly setpoints: number[];
  readonly meddling: Meddling[];
  readonly layout: Layout;
  timeS = 0;
  #zones: ZoneState[];
  #random: () => number;
  #restarted = false;
  #startMs = Date.UTC(2026, 1, 3, 18);

  constructor(parameters: LineParameters, random: () => number) {
    this.parameters = parameters;
    this.#random = random;
    this.setpoints = parameters.zones.map(() => 0);
    this.meddling = parameters.zones.map(() => ({}));
    this.#zones = parameters.zones.map(({ deadTimeS }) => ({
      temperatureC: parameters.roomC,
      sensorC: parameters.roomC,
      integral: 0,
      power: 0,
      switchedOn: false,
      delayed: Array(Math.round(deadTimeS / STEP_S)).fill(0),
      reportedC: parameters.roomC,
      looseUntilS: 0,
      looseByK: 0,
    }));
    this.layout = zoneLayout(parameters.zones.length, parameters.sendsPower ? undefined : ['t', 's', 'f']);
  }

  /** True temperature of a zone, °C; index from 0. */
  trueC(zone: number): number {
    return this.#zones[zone]?.temperatureC ?? Number.NaN;
  }

  /** What the sensor feels, without noise. */
  sensedC(zone: number): number {
    return this.#zones[zone]?.sensorC ?? Number.NaN;
  }

  /** Power set by the controller. */
  power(zone: number): number {
    return this.#zones[zone]?.power ?? Number.NaN;
  }

  /** The device restarts: the controllers forget their integrals. */
  restart(): void {
    this.#restarted = true;
    for (const zone of this.#zones) zone.integral = 0;
  }

  /** Runs without sending: a gap in the line. */
  runSilently(seconds: number): void {
    for (let i = 0; i < Math.round(seconds / STEP_S); i++) this.#advance();
  }

  /** Runs and passes on every reading. */
  run(seconds: number, take: (reading: Reading) => void): void {
    const perStep = this.parameters.ratePerS * STEP_S;
    let due = 0;
    const steps = Math.round(seconds / STEP_S);
    for (let i = 0; i < steps; i++) {
      this.#advance();
      due += perStep;
      while (due >= 1 - 1e-9) {
        due -= 1;
        take(this.#reading(due / this.parameters.ratePerS));
      }
    }
  }

  #advance(): void {
    this.timeS += STEP_S;
    const { roomC } = this.parameters;
    const before = this.#zones.map(({ temperatureC }) => temperatureC);
    this.#zones.forEach((zone, i) => {
      const p = this.parameters.zones[i]!;
      const meddled = this.meddling[i]!;
      const share = meddled.heaterDead ? 0 : (meddled.heaterShare ?? 1);
      const heated = meddled.stuckOn ? 1 : share * zone.power;
      zone.delayed.push(heated);
      const effect = zone.delayed.shift() ?? 0;
      const lossRate = (p.rateKPerS * p.steadyPower * (zone.temperatureC - roomC)) / 180;
      let change = p.rateKPerS * (effect - ((meddled.loss ?? 0) * (zone.temperatureC - roomC)) / 180) - lossRate;
      for (const neighbour of [before[i - 1], before[i + 1]])
        if (neighbour !== undefined) change += p.couplingPerS * (neighbour - zone.temperatureC);
      zone.temperatureC += change * STEP_S;
      if (meddled.slippedTauS) {
        const airC = roomC + 0.25 * (zone.temperatureC - roomC);
        zone.sensorC += ((airC - zone.sensorC) * STEP_S) / meddled.slippedTauS;
      } else zone.sensorC = zone.temperatureC;
      this.#control(zone, p, this.setpoints[i]!, meddled);
    });
  }

  #control(zone: ZoneState, p: ZoneParameters, setpointC: number, meddled: Meddling): void {
    if (setpointC <= 0) {
      zone.power = 0;
      zone.integral = 0;
      zone.switchedOn = false;
      return;
    }
    const inputC = meddled.sensorReads ?? (meddled.frozen ? zone.reportedC : zone.sensorC);
    const error = setpointC - inputC;
    if (p.onOff) {
      if (error > 1) zone.switchedOn = true;
      if (error < -1) zone.switchedOn = false;
      zone.power = zone.switchedOn ? 1 : 0;
      return;
    }
    const unlimited = p.gainPerK * error + zone.integral;
    zone.power = Math.min(1, Math.max(0, unlimited));
    // Anti-windup: the integral stays while the output is at its limit.
    if (unlimited === zone.power) zone.integral = Math.max(0, zone.integral + p.integralPerKS * error * STEP_S);
  }

  #reading(backS: number): Reading {
    const { noiseK, resolutionK, sendsPower } = this.parameters;
    const values: number[] = [];
    this.#zones.forEach((zone, i) => {
      const meddled = this.meddling[i]!;
      if (!meddled.frozen) {
        let readC = zone.sensorC + noiseK * this.#gauss();
        if (meddled.looseEveryS) {
          const chance = 1 / (meddled.looseEveryS * this.parameters.ratePerS);
          if (this.timeS > zone.looseUntilS && this.#random() < chance) {
            zone.looseUntilS = this.timeS + 0.1 + 0.5 * this.#random();
            zone.looseByK = 20 + 60 * this.#random();
            if (this.#random() < 0.5) zone.looseByK = -zone.looseByK;
          }
          if (this.timeS <= zone.looseUntilS) readC += zone.looseByK;
        }
        const step = resolutionK || 0.01;
        zone.reportedC = Number((Math.round(readC / step) * step).toFixed(2));
      }
      values.push(meddled.sensorReads ?? zone.reportedC, this.setpoints[i]!);
      if (sendsPower) values.push(Number(zone.power.toFixed(3)));
      values.push(meddled.faultBits ?? 0);
    });
    const restarted = this.#restarted;
    this.#restarted = false;
    return {
      timeMs: this.#startMs + (this.timeS - backS) * 1000,
      layout: this.layout,
      values,
      lostBefore: 0,
      restarted,
    };
  }

  #gauss(): number {
    return Math.sqrt(-2 * Math.log(1 - this.#random())) * Math.cos(2 * Math.PI * this.#random());
  }
}
