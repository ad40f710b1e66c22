/** The heated barrel: its zones with their heaters, sensors and controllers, and the faults that can befall them. */

import { HeatController } from './heat-controller.ts';
import type { Plant } from './plant.ts';
import { Random } from './random.ts';
import { type SensorFault, TemperatureSensor } from './temperature-sensor.ts';
import { steadyPower, Zone } from './zone.ts';

/** `power-lost`: heater, relay or fuse is open; `switch-stuck`: the heater stays on whatever the controller says. */
export type HeatFault = SensorFault | 'power-lost' | 'switch-stuck';

class HeatedZone {
  readonly body: Zone;
  readonly sensor: TemperatureSensor;
  readonly controller: HeatController;
  /** What the controller asks for and the device reports, 0…1. */
  power = 0;
  heaterFault: 'power-lost' | 'switch-stuck' | null = null;

  constructor(body: Zone, sensor: TemperatureSensor, controller: HeatController) {
    this.body = body;
    this.sensor = sensor;
    this.controller = controller;
  }
}

export class Barrel {
  readonly zones: readonly HeatedZone[];
  readonly #roomC: number;

  /** @param startC where each zone starts; null starts it at room temperature */
  constructor(plant: Plant, startC: readonly (number | null)[], seed: number) {
    const temperaturesC = plant.zones.map((_, i) => startC[i] ?? plant.roomC);
    this.#roomC = plant.roomC;
    this.zones = plant.zones.map((zone, i) => {
      const atC = temperaturesC[i]!;
      const power = steadyPower(zone, plant.roomC, atC, neighbours(temperaturesC, i));
      return new HeatedZone(
        new Zone(zone, plant.roomC, atC, power),
        new TemperatureSensor(atC, Random.stream(seed, `sensor ${i + 1}`)),
        new HeatController(power),
      );
    });
  }

  step(): void {
    const before = this.zones.map((zone) => zone.body.temperatureC);
    for (let i = 0; i < this.zones.length; i++) {
      const zone = this.zones[i]!;
      zone.sensor.step(zone.body.temperatureC, this.#roomC);
      zone.power = zone.controller.step(zone.sensor.readingC, zone.sensor.faultBits !== 0);
      const given = zone.heaterFault === 'power-lost' ? 0 : zone.heaterFault === 'switch-stuck' ? 1 : zone.power;
      zone.body.step(given, neighbours(before, i));
    }
  }

  /** Sets or, with null, heals whatever fault the zone (1 = nearest the hopper) has. */
  setFault(zoneNumber: number, fault: HeatFault | null): void {
    const zone = this.zones[zoneNumber - 1]!;
    const atHeater = fault === 'power-lost' || fault === 'switch-stuck';
    zone.heaterFault = atHeater ? fault : null;
    zone.sensor.fault = atHeater ? null : fault;
  }

  /** Of the melt as it leaves the die: mostly the die's, some of the zones before. */
  get meltC(): number {
    const last = this.zones.length - 1;
    let beforeC = 0;
    for (let i = 0; i < last; i++) beforeC += this.zones[i]!.body.temperatureC;
    const dieC = this.zones[last]!.body.temperatureC;
    return last === 0 ? dieC : 0.7 * dieC + (0.3 * beforeC) / last;
  }

  /** The coldest spot that the polymer must pass. */
  get coldestC(): number {
    let coldest = Number.POSITIVE_INFINITY;
    for (const zone of this.zones) coldest = Math.min(coldest, zone.body.temperatureC);
    return coldest;
  }
}

function neighbours(temperaturesC: readonly number[], index: number): number[] {
  const found: number[] = [];
  if (index > 0) found.push(temperaturesC[index - 1]!);
  if (index < temperaturesC.length - 1) found.push(temperaturesC[index + 1]!);
  return found;
}
