import { HeatWatch } from '../../../server/heat/heat-watch.ts';
import type { HeatFault, HeatLimits, ZoneStatus } from '../../../server/heat/zone-status.ts';
import { Chance } from './chance.ts';
import { type Meddling, Plant, STEP_S } from './plant.ts';
import { type PlantLine, scatteredLine, slowLine } from './scatter.ts';

/** No heat-up takes longer, s. */
const HEAT_UP_S = 1800;
const SLOW_HEAT_UP_S = 6000;
const LIMITS: HeatLimits = { absoluteLimitC: 300, atHeatWithinC: 5 };

/**
 * What is known of the line: learnt from a heat-up on an evening before, nothing yet, or not even its power; and the same of a
 * slow line whose zones are coupled.
 */
export const LINES = ['learnt', 'first evening', 'without power', 'slow, learnt', 'slow, first evening'] as const;
export type Known = (typeof LINES)[number];

export interface Claim {
  readonly zone: number;
  readonly fault: HeatFault;
  readonly atS: number;
  /** Nothing broke, but the claim is true: fully on for long, its heater still could not hold the set-point. */
  readonly heaterTooWeak: boolean;
}

/** Fully on for this long, s, and yet this far below its set-point, K: the heater cannot hold it. */
const TOO_WEAK = { fullyOnS: 300, belowK: 5 } as const;

/** A plant under the heat watch, and every fault that was claimed of it. */
export class WatchedLine {
  readonly chance: Chance;
  readonly line: PlantLine;
  readonly plant: Plant;
  readonly watch: HeatWatch;
  readonly claims: Claim[] = [];
  #statuses: readonly ZoneStatus[] = [];
  readonly #fullyOnS: number[];

  readonly #heatUpS: number;

  private constructor(line: PlantLine, chance: Chance, watch: HeatWatch, heatUpS: number) {
    this.#heatUpS = heatUpS;
    this.chance = chance;
    this.line = line;
    this.watch = watch;
    this.plant = new Plant(line, chance);
    this.#fullyOnS = line.zones.map(() => 0);
  }

  /** A line as it is known. An evening before, a learnt one heated up once and was watched. */
  static new(seed: number, known: Known): WatchedLine {
    const chance = new Chance(seed);
    const slow = known === 'slow, learnt' || known === 'slow, first evening';
    const plant = slow ? slowLine(chance) : scatteredLine(chance, known === 'without power');
    const line = new WatchedLine(plant, chance, new HeatWatch(LIMITS), slow ? SLOW_HEAT_UP_S : HEAT_UP_S);
    if (known !== 'learnt' && known !== 'slow, learnt') return line;
    return line
      .run(chance.between(0, 60))
      .set(...line.usualSetpoints())
      .heatUp(240);
  }

  /** Another evening of the same line: it is cold again, and what was learnt is kept. */
  nextEvening(): WatchedLine {
    return new WatchedLine(this.line, this.chance.clone(), new HeatWatch(LIMITS, this.watch.models()), this.#heatUpS);
  }

  step(): void {
    for (let i = 0; i < this.#fullyOnS.length; i++)
      this.#fullyOnS[i] = this.plant.duty(i) > 0.99 ? this.#fullyOnS[i]! + STEP_S : 0;
    this.plant.stepAndTell((reading) => {
      const statuses = this.watch.step(reading);
      if (statuses === this.#statuses) return;
      this.#statuses = statuses;
      for (const { zone, faults } of statuses) for (const fault of faults) this.#claim(zone, fault);
    });
  }

  #claim(zone: number, fault: HeatFault): void {
    if (this.claims.some((claim) => claim.zone === zone && claim.fault === fault)) return;
    const belowK = this.plant.setpoints[zone - 1]! - this.plant.sensorC(zone - 1);
    const heaterTooWeak =
      (fault === 'late' || fault === 'drifting') &&
      this.#fullyOnS[zone - 1]! >= TOO_WEAK.fullyOnS &&
      belowK > TOO_WEAK.belowK;
    this.claims.push({ zone, fault, atS: this.plant.timeS, heaterTooWeak });
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

  /** Until all zones are within 3 K of their set-points, at most as long as any line takes; then so long again. */
  heatUp(settleS: number): this {
    const near = () => this.plant.setpoints.every((c, i) => c <= 0 || Math.abs(this.plant.sensorC(i) - c) < 3);
    for (let s = 0; s < this.#heatUpS && !near(); s += 5) this.run(5);
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
