/** The heated barrel: its zones with their heaters, sensors and controllers, and their faults. */

import { HeatController } from './heat-controller.ts';
import type { Plant } from './plant.ts';
import { Random } from './random.ts';
import { type SensorFault, TemperatureSensor } from './temperature-sensor.ts';
import { steadyPower, Zone } from './zone.ts';

/** `power-lost`: heater, relay or fuse is open; `switch-stuck`: the heater stays on, whatever its controller outputs. */
export type HeatFault = SensorFault | 'power-lost' | 'switch-stuck';

class HeatedZone {
  readonly body: Zone;
  readonly sensor: TemperatureSensor;
  readonly controller: HeatController;
  /** Output of the controller, as the device reports it, 0…1. */
  power = 0;
  heaterFault: 'power-lost' | 'switch-stuck' | null = null;

  constructor(body: Zone, sensor: TemperatureSensor, controller: HeatController) {
    this.body = body;
    this.sensor = sensor;
    this.controller = controller;
  }

  /** Power that the heater really has, 0…1. */
  get heaterPower(): number {
    if (this.heaterFault === 'power-lost') return 0;
    return this.heaterFault === 'switch-stuck' ? 1 : this.power;
  }
}

export class Barrel {
  readonly zones: readonly HeatedZone[];
  readonly #roomC: number;

  /** @param startC temperature of each zone at the start; null = room temperature */
  constructor(plant: Plant, startC: readonly (number | null)[], seed: number) {
    const temperaturesC = plant.zones.map((_, i) => startC[i] ?? plant.roomC);
    this.#roomC = plant.roomC;
    this.zones = plant.zones.map((zone, i) => {
      const atC = startC[i] ?? plant.roomC;
      const power = steadyPower(zone, plant.roomC, atC, neighbours(temperaturesC, i));
      return new HeatedZone(
        new Zone(zone, plant.roomC, atC, power),
        new TemperatureSensor(atC, Random.stream(seed, `sensor ${i + 1}`)),
        new HeatController(power),
      );
    });
  }

  /**
   * @param number 1 = nearest the hopper
   * @throws RangeError if a scenario names a zone that the line does not have
   */
  zone(number: number): HeatedZone {
    const zone = this.zones[number - 1];
    if (zone === undefined) throw new RangeError(`The line has no zone ${number}, only 1 to ${this.zones.length}.`);
    return zone;
  }

  step(): void {
    const before = this.zones.map((zone) => zone.body.temperatureC);
    for (const [i, zone] of this.zones.entries()) {
      zone.sensor.step(zone.body.temperatureC, this.#roomC);
      zone.power = zone.controller.step(zone.sensor.readingC, zone.sensor.faultBits !== 0);
      zone.body.step(zone.heaterPower, neighbours(before, i));
    }
  }

  /** Replace the fault of a zone; null = none. */
  setFault(zoneNumber: number, fault: HeatFault | null): void {
    const zone = this.zone(zoneNumber);
    const isHeaterFault = fault === 'power-lost' || fault === 'switch-stuck';
    zone.heaterFault = isHeaterFault ? fault : null;
    zone.sensor.fault = isHeaterFault ? null : fault;
  }

  /** Temperature of the melt as it leaves the die: mostly that of the die, partly that of the zones before. */
  get meltC(): number {
    const temperaturesC = this.zones.map((zone) => zone.body.temperatureC);
    const dieC = temperaturesC.pop() ?? this.#roomC;
    if (temperaturesC.length === 0) return dieC;
    const sumC = temperaturesC.reduce((sum, temperatureC) => sum + temperatureC, 0);
    return 0.7 * dieC + (0.3 * sumC) / temperaturesC.length;
  }

  /** Lowest temperature that the polymer passes through. */
  get coldestC(): number {
    let coldest = Number.POSITIVE_INFINITY;
    for (const zone of this.zones) coldest = Math.min(coldest, zone.body.temperatureC);
    return coldest;
  }
}

function neighbours(temperaturesC: readonly number[], index: number): number[] {
  return temperaturesC.filter((_, i) => Math.abs(i - index) === 1);
}
