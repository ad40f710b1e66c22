import { HeatWatch } from '../../../server/heat/heat-watch.ts';
import type { HeatFault, HeatLimits, ZoneStatus } from '../../../server/heat/zone-status.ts';
import { Chance } from './chance.ts';
import { type Meddling, Plant, STEP_S } from './plant.ts';
import { type PlantLine, scatteredLine } from './scatter.ts';

export const LIMITS: HeatLimits = { absoluteLimitC: 300, atHeatWithinC: 5 };

export interface Claim {
  readonly zone: number;
  readonly fault: HeatFault;
  readonly atS: number;
}

/** A plant under the heat watch, and every fault that was claimed of it. */
export class WatchedLine {
  readonly chance: Chance;
  readonly line: PlantLine;
  plant: Plant;
  watch = new HeatWatch(LIMITS);
  readonly claims: Claim[] = [];
  #statuses: readonly ZoneStatus[] = [];

  constructor(seed: number, blind: boolean) {
    this.chance = new Chance(seed);
    this.line = scatteredLine(this.chance, blind);
    this.plant = new Plant(this.line, this.chance);
  }

  /** An evening before: the line heats up once and is watched; then it is cold again, and what was learnt is kept. */
  learn(): this {
    this.set(...this.usualSetpoints()).heatUp(1800, 240);
    this.watch = new HeatWatch(LIMITS, this.watch.models());
    this.plant = new Plant(this.line, this.chance);
    this.#statuses = [];
    return this;
  }

  step(): void {
    this.plant.stepAndTell((reading) => {
      const statuses = this.watch.step(reading);
      if (statuses === this.#statuses) return;
      this.#statuses = statuses;
      for (const { zone, faults } of statuses) for (const fault of faults) this.#claim(zone, fault);
    });
  }

  #claim(zone: number, fault: HeatFault): void {
    if (this.claims.some((claim) => claim.zone === zone && claim.fault === fault)) return;
    this.claims.push({ zone, fault, atS: this.plant.timeS });
  }

  run(seconds: number): this {
    for (let i = Math.round(seconds / STEP_S); i > 0; i--) this.step();
    return this;
  }

  set(...setpoints: number[]): this {
    this.plant.setpoints.splice(0, setpoints.length, ...setpoints);
    return this;
  }

  meddle(zone: number, meddling: Meddling): this {
    this.plant.meddling[zone - 1] = meddling;
    return this;
  }

  /** Until all zones are within 3 K of their set-points, at most so long; then so long again. */
  heatUp(atMostS: number, settleS: number): this {
    const near = () => this.plant.setpoints.every((c, i) => c <= 0 || Math.abs(this.plant.sensorC(i) - c) < 3);
    for (let s = 0; s < atMostS && !near(); s += 5) this.run(5);
    return this.run(settleS);
  }

  status(zone: number): ZoneStatus | undefined {
    return this.#statuses.find((status) => status.zone === zone);
  }

  /** Set-points as the trade uses them (common practice, no source): rising towards the die. */
  usualSetpoints(): [number, number, number] {
    const { chance } = this;
    return [chance.between(165, 195), chance.between(180, 220), chance.between(185, 235)];
  }
}
