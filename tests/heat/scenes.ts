import { HeatWatch } from '../../server/heat/heat-watch.ts';
import type { HeatFault, HeatLimits, ZoneStatus } from '../../server/heat/zone-status.ts';
import { seeded } from '../chance.ts';
import { type LineParameters, type Meddling, ModelLine, scattered } from './zone-model.ts';

export const LIMITS: HeatLimits = { absoluteLimitC: 300, atHeatWithinC: 5 };

/** A simulated line under watch, with everything observed on it. */
export class Scene {
  readonly line: ModelLine;
  readonly watch = new HeatWatch(LIMITS);
  readonly random: () => number;
  statuses: readonly ZoneStatus[] = [];
  /** Every fault that ever held, with the line's time when it was first seen, s. */
  readonly faults: { zone: number; fault: HeatFault; atS: number }[] = [];

  /** When each zone was last powered, s. */
  readonly #poweredS: number[] = [];

  constructor(seed: number, over: Partial<LineParameters> & { readonly onOff?: boolean } = {}) {
    this.random = seeded(seed);
    this.line = new ModelLine(scattered(this.random, over), this.random);
  }

  run(seconds: number): this {
    this.line.run(seconds, (reading) => {
      this.line.parameters.zones.forEach((_, i) => {
        if (this.line.power(i) > 0.02) this.#poweredS[i] = this.line.timeS;
      });
      const statuses = this.watch.step(reading);
      if (statuses === this.statuses) return;
      this.statuses = statuses;
      for (const { zone, faults } of statuses)
        for (const fault of faults)
          if (!this.faults.some((f) => f.zone === zone && f.fault === fault))
            this.faults.push({ zone, fault, atS: this.line.timeS });
    });
    return this;
  }

  set(...setpoints: number[]): this {
    this.line.setpoints.splice(0, setpoints.length, ...setpoints);
    return this;
  }

  meddle(zone: number, meddling: Meddling): this {
    this.line.meddling[zone - 1] = meddling;
    return this;
  }

  status(zone: number): ZoneStatus {
    const found = this.statuses.find((status) => status.zone === zone);
    if (!found) throw new Error(`no status of zone ${zone}`);
    return found;
  }

  /** Runs until all zones are within 3 K, or for `atMostS`; then lets them settle for `settleS`. */
  heatUp(atMostS = 1800, settleS = 300): this {
    const near = () => this.line.setpoints.every((setpointC, i) => Math.abs(this.line.sensedC(i) - setpointC) < 3);
    for (let s = 0; s < atMostS && !near(); s += 5) this.run(5);
    return this.run(settleS);
  }

  /** Runs until `seen` (checked every half second), at most `atMostS`; then the time it took, s, or null. */
  runUntil(seen: () => boolean, atMostS: number): number | null {
    const from = this.line.timeS;
    while (this.line.timeS - from < atMostS) {
      if (seen()) return this.line.timeS - from;
      this.run(0.5);
    }
    return seen() ? this.line.timeS - from : null;
  }

  /** How long the controller has left a zone unpowered, s. */
  powerOffForS(zone: number): number {
    return this.line.timeS - (this.#poweredS[zone - 1] ?? 0);
  }

  has(zone: number, ...faults: HeatFault[]): boolean {
    return this.status(zone).faults.some((fault) => faults.includes(fault));
  }
}
