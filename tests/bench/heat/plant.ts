import type { Reading } from '../../../server/reading/reading.ts';
import { zoneLayout } from '../../heat/zone-layout.ts';
import type { Chance } from './chance.ts';
import { Controller } from './controller.ts';
import type { PlantLine, PlantZone } from './scatter.ts';

/**
 * The bench's own line: each zone is a heater with mass, a barrel that loses heat by convection and radiation and shares
 * some with its neighbours, and a sensor that lags, so third order with a delay; noise that is partly coloured. It is
 * neither the simulator's model nor the detector's (first order with dead time), which it must not favour.
 *
 *   τh · dh/dt = u(t − θ) − h
 *   dTb/dt = a · (h − load) − b · (Tb − Troom) · (1 + r · (Tb − Troom)/180) + k · Σ (Tneighbour − Tb)
 *   τs · dTs/dt = Tb − Ts
 */

export const STEP_S = 0.2;

/** What can be done to a zone. */
export interface Meddling {
  /** Share of its heat that the heater still gives; 1 = whole. */
  readonly heaterShare?: number;
  /** The heater fades to nothing within so many seconds. */
  readonly fadesWithinS?: number;
  /** The board never drives it by more than this, 0…1. */
  readonly driveAtMost?: number;
  /** It is driven so, whatever its controller asks, 0…1. */
  readonly driven?: number;
  /** The board swings it: fully on below this many kelvins under the set-point, off above as many over it. */
  readonly swingsByK?: number;
  /** The sensor reads ever lower, K/s, and the controller follows it. */
  readonly sinksKPerS?: number;
  /** Least drive whatever is asked: a switch that is stuck on (1), or one half of it (0.5). */
  readonly stuckOn?: number;
  /** The sensor feels this share of the excess over the room only, through a lag of `slipLagS`. */
  readonly slipShare?: number;
  readonly slipLagS?: number;
  readonly frozen?: boolean;
  /** Says this whatever the temperature; NaN = no value. */
  readonly says?: number;
  readonly faultBits?: number;
  /** A loose contact that is off by up to `looseK` about every so many seconds. */
  readonly looseEveryS?: number;
  readonly looseK?: number;
  /** Heat that cold stock, a fan or a draught takes at 200 °C, as a share of full power; less where it is cooler. */
  readonly load?: number;
  /** The same, but at once. */
  readonly suddenLoad?: number;
}

const HEALTHY: Meddling = {};

interface ZoneState {
  heat: number;
  barrelC: number;
  sensorC: number;
  wanderK: number;
  saidC: number;
  looseUntilS: number;
  looseByK: number;
  looseTold: number;
  wasLoose: boolean;
  loadNow: number;
  fadedS: number;
  sunkK: number;
  swungOn: boolean;
  readonly delayed: Float64Array;
  head: number;
  controller: Controller;
}

export class Plant {
  readonly line: PlantLine;
  readonly setpoints: number[];
  readonly meddling: Meddling[];
  timeS = 0;
  /** null = without noise and steps: what the sensor would truly feel. */
  readonly #chance: Chance | null;
  #zones: ZoneState[];
  #restarted = false;
  #due = 0;

  constructor(line: PlantLine, chance: Chance | null) {
    this.line = line;
    this.#chance = chance;
    this.setpoints = line.zones.map(() => 0);
    this.meddling = line.zones.map(() => HEALTHY);
    this.#zones = line.zones.map((zone) => ({
      heat: 0,
      barrelC: line.roomC,
      sensorC: line.roomC,
      wanderK: 0,
      saidC: line.roomC,
      looseUntilS: 0,
      looseByK: 0,
      looseTold: 0,
      wasLoose: false,
      loadNow: 0,
      fadedS: 0,
      sunkK: 0,
      swungOn: false,
      delayed: new Float64Array(Math.max(1, Math.round(zone.delayS / STEP_S))),
      head: 0,
      controller: new Controller(zone.controller),
    }));
  }

  /** The same line at the same moment, without noise. */
  noiseless(): Plant {
    const copy = new Plant(this.line, null);
    copy.timeS = this.timeS;
    copy.setpoints.splice(0, copy.setpoints.length, ...this.setpoints);
    copy.meddling.splice(0, copy.meddling.length, ...this.meddling);
    copy.#zones = this.#zones.map((zone) => ({
      ...zone,
      wanderK: 0,
      delayed: zone.delayed.slice(),
      controller: zone.controller.clone(),
    }));
    return copy;
  }

  /** True temperature of the barrel, °C; zones from 0. */
  barrelC(zone: number): number {
    return this.#zones[zone]!.barrelC;
  }

  /** What the sensor feels, without noise, °C. */
  sensorC(zone: number): number {
    return this.#zones[zone]!.sensorC;
  }

  /** The last reading that the line sent, °C. */
  saidC(zone: number): number {
    return this.#zones[zone]!.saidC;
  }

  /** What its heater is switched to by its controller, 0…1. */
  drive(zone: number): number {
    return this.#drive(this.#zones[zone]!, this.meddling[zone]!);
  }

  /** What the controller asks for, 0…1. */
  duty(zone: number): number {
    return this.#zones[zone]!.controller.duty;
  }

  /** Excursions of a loose contact that a reading line carried. */
  looseTold(zone: number): number {
    return this.#zones[zone]!.looseTold;
  }

  restart(): void {
    this.#restarted = true;
    for (const zone of this.#zones) zone.controller.restart();
  }

  step(): void {
    this.timeS += STEP_S;
    const zones = this.#zones;
    let beforeC = Number.NaN;
    for (let i = 0; i < zones.length; i++) {
      const zone = zones[i]!;
      const nowC = zone.barrelC;
      this.#heat(zone, this.line.zones[i]!, this.meddling[i]!, beforeC, zones[i + 1]?.barrelC ?? Number.NaN);
      this.#sense(zone, this.line.zones[i]!, this.meddling[i]!);
      const { swingsByK } = this.meddling[i]!;
      zone.controller.step(STEP_S, this.setpoints[i]!, () => this.#read(zone, this.meddling[i]!));
      if (swingsByK !== undefined) {
        const awayK = zone.sensorC - this.setpoints[i]!;
        if (Math.abs(awayK) > swingsByK) zone.swungOn = awayK < 0;
      }
      beforeC = nowC;
    }
  }

  #heat(zone: ZoneState, p: PlantZone, m: Meddling, lowerC: number, upperC: number): void {
    const { roomC } = this.line;
    let share = m.heaterShare ?? 1;
    if (m.fadesWithinS !== undefined) {
      zone.fadedS += STEP_S;
      share *= Math.max(0, 1 - zone.fadedS / m.fadesWithinS);
    }
    const asked = Math.max(this.#drive(zone, m), m.stuckOn ?? 0) * share;
    const drive = zone.delayed[zone.head]!;
    zone.delayed[zone.head] = asked;
    zone.head = (zone.head + 1) % zone.delayed.length;
    zone.heat += ((drive - zone.heat) * STEP_S) / p.heaterLagS;
    // Cold stock does not come in one instant.
    zone.loadNow += (((m.load ?? 0) - zone.loadNow) * STEP_S) / 8;
    const excess = (zone.barrelC - roomC) / 180;
    const loss = (p.rateKPerS * p.steadyPower * excess * (1 + p.radiation * excess)) / (1 + p.radiation);
    let slope = p.rateKPerS * (zone.heat - (zone.loadNow + (m.suddenLoad ?? 0)) * excess) - loss;
    if (!Number.isNaN(lowerC)) slope += p.couplingPerS * (lowerC - zone.barrelC);
    if (!Number.isNaN(upperC)) slope += p.couplingPerS * (upperC - zone.barrelC);
    zone.barrelC += slope * STEP_S;
  }

  #drive(zone: ZoneState, m: Meddling): number {
    if (m.driven !== undefined) return m.driven;
    if (m.swingsByK !== undefined) return zone.swungOn ? 1 : 0;
    return Math.min(zone.controller.drive, m.driveAtMost ?? 1);
  }

  /** What the line says of its power. */
  #sentPower(zone: ZoneState, m: Meddling): number {
    if (m.swingsByK !== undefined) return zone.swungOn ? 1 : 0;
    const sentPower = this.line.powerTold === 'switch' ? zone.controller.switch : zone.controller.duty;
    return Math.min(sentPower, m.driveAtMost ?? 1);
  }

  #sense(zone: ZoneState, p: PlantZone, m: Meddling): void {
    const { roomC } = this.line;
    if (m.sinksKPerS !== undefined) zone.sunkK += m.sinksKPerS * STEP_S;
    const feltC = m.slipShare === undefined ? zone.barrelC : roomC + m.slipShare * (zone.barrelC - roomC);
    const lagS = p.sensorLagS + (m.slipShare === undefined ? 0 : (m.slipLagS ?? 10));
    zone.sensorC += ((feltC - zone.sunkK - zone.sensorC) * STEP_S) / lagS;
  }

  /** One look at the sensor, as the board takes it. */
  #read(zone: ZoneState, m: Meddling): number {
    if (m.says !== undefined) return m.says;
    if (m.frozen) return zone.saidC;
    const trueC = zone.sensorC;
    const chance = this.#chance;
    if (chance === null) {
      zone.saidC = trueC;
      return trueC;
    }
    const { noiseK, wanderK, wanderS, resolutionK, readingsPerS } = this.line;
    if (wanderK > 0) {
      const share = Math.min(1, 1 / (wanderS * readingsPerS));
      zone.wanderK += -share * zone.wanderK + wanderK * Math.sqrt(2 * share) * chance.gauss();
    }
    let sentC = trueC + zone.wanderK + (noiseK > 0 ? noiseK * chance.gauss() : 0);
    if (m.looseEveryS !== undefined) sentC += this.#loose(zone, m.looseEveryS, m.looseK ?? 40, chance);
    const grain = resolutionK || 0.01;
    zone.saidC = Math.round(sentC / grain) * grain;
    return zone.saidC;
  }

  #loose(zone: ZoneState, everyS: number, byK: number, chance: Chance): number {
    if (this.timeS > zone.looseUntilS && chance.next() < 1 / (everyS * this.line.readingsPerS)) {
      zone.looseUntilS = this.timeS + chance.between(0.05, 0.8);
      zone.looseByK = chance.between(0.4, 1) * byK * (chance.next() < 0.5 ? -1 : 1);
    }
    return this.timeS <= zone.looseUntilS ? zone.looseByK : 0;
  }

  /** Runs without sending anything: a gap in the line, or no receiver. */
  runSilently(seconds: number): void {
    for (let i = Math.round(seconds / STEP_S); i > 0; i--) this.step();
  }

  /** One step, and the readings that fall due in it. */
  stepAndTell(take: (reading: Reading) => void): void {
    this.step();
    this.#due += this.line.readingsPerS * STEP_S;
    while (this.#due >= 1 - 1e-9) {
      this.#due -= 1;
      take(this.#reading(this.#due / this.line.readingsPerS));
    }
  }

  #reading(backS: number): Reading {
    const { powerTold } = this.line;
    const values: number[] = [];
    for (let i = 0; i < this.#zones.length; i++) {
      const zone = this.#zones[i]!;
      const m = this.meddling[i]!;
      values.push(this.#read(zone, m), this.setpoints[i]!);
      const loose = this.timeS <= zone.looseUntilS;
      if (loose && !zone.wasLoose) zone.looseTold++;
      zone.wasLoose = loose;
      if (powerTold !== 'none') values.push(Math.round(this.#sentPower(zone, m) * 1000) / 1000);
      values.push(m.faultBits ?? 0);
    }
    const restarted = this.#restarted;
    this.#restarted = false;
    const timeMs = START_MS + Math.round((this.timeS - backS) * 1000);
    return { timeMs, layout: powerTold === 'none' ? BLIND_LAYOUT : LAYOUT, values, lostBefore: 0, restarted };
  }
}

const START_MS = Date.UTC(2026, 10, 3, 18);
const LAYOUT = zoneLayout(3);
const BLIND_LAYOUT = zoneLayout(3, ['t', 's', 'f']);
