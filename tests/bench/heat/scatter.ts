import type { Chance } from './chance.ts';
import type { ControllerTuning } from './controller.ts';

/**
 * Cold stock, a fan or a draught takes up to so much of a zone's full power at 200 °C. 1 kg/h of PLA from the room to 200 °C takes
 * some 100 W (0.28 g/s × 180 K × 2 J/(g·K), from memory): a third of it for each of three zones of 170 W is 0.2.
 */
export const GREATEST_LOAD = 0.2;

/** One zone of the bench's plant; everything that varies is within what is usual (common practice, no source). */
export interface PlantZone {
  /** Rise of the bare barrel at full power from cold, K/s. */
  readonly rateKPerS: number;
  /** Power that would keep it at 200 °C if it were alone. */
  readonly steadyPower: number;
  /** Lag of the heater's own mass, s. */
  readonly heaterLagS: number;
  /** Lag of the sensor, s. */
  readonly sensorLagS: number;
  /** Pure delay: switching, filtering in the board, s. */
  readonly delayS: number;
  /** Exchange with each neighbour, 1/s. */
  readonly couplingPerS: number;
  /** How much more it loses for each kelvin when hot, as radiation does: 0 = none, 0.5 = half more at 200 °C. */
  readonly radiation: number;
  readonly controller: ControllerTuning;
}

export interface PlantLine {
  readonly zones: readonly PlantZone[];
  readonly roomC: number;
  readonly readingsPerS: number;
  /** White noise of one reading, standard deviation, K. */
  readonly noiseK: number;
  /** Noise that wanders over seconds, standard deviation, K, and its time, s. */
  readonly wanderK: number;
  readonly wanderS: number;
  /** 0 = prints hundredths. */
  readonly resolutionK: number;
  /** How it tells its power: the share asked for, what the switch does at this moment, or not at all. */
  readonly powerTold: 'share' | 'switch' | 'none';
}

/**
 * A small bench extruder with bands of some 40 W: one of them warms 130–330 J/K by 0.12–0.3 K/s, through clamps that
 * take their time, and its neighbours share much of it (common practice, no source).
 */
export function slowLine(chance: Chance): PlantLine {
  const zones = [0, 1, 2].map((): PlantZone => {
    const rateKPerS = chance.spread(0.12, 0.3);
    const heaterLagS = chance.between(15, 60);
    const sensorLagS = chance.between(5, 30);
    const delayS = chance.between(1, 6);
    const apparentS = heaterLagS + sensorLagS + delayS;
    return {
      rateKPerS,
      steadyPower: chance.between(0.3, 0.55),
      heaterLagS,
      sensorLagS,
      delayS,
      couplingPerS: chance.spread(1 / 900, 1 / 300),
      radiation: chance.between(0, 0.4),
      controller: {
        kind: 'pid',
        periodS: chance.pick([0.5, 1, 2]),
        gainPerK: chance.between(0.25, 0.5) / (rateKPerS * apparentS),
        integralTimeS: chance.spread(250, 700),
        derivativeTimeS: chance.next() < 0.5 ? chance.between(0.2, 0.4) * apparentS : 0,
        hysteresisK: 1,
        windowS: 0,
      },
    };
  });
  return {
    zones,
    roomC: chance.between(14, 30),
    readingsPerS: chance.pick([1, 2, 5, 10]),
    noiseK: chance.between(0, 0.25),
    wanderK: chance.next() < 0.5 ? 0 : chance.between(0, 0.15),
    wanderS: chance.between(3, 15),
    resolutionK: chance.pick([0, 0, 0.0625, 0.1, 0.25]),
    powerTold: 'share',
  };
}

/** A line as anybody might build it. */
export function scatteredLine(chance: Chance, blind: boolean): PlantLine {
  const onOff = chance.next() < 0.12;
  const windowS = chance.next() < 0.5 ? 0 : chance.pick([1, 2, 5, 10]);
  const zones = [0, 1, 2].map((): PlantZone => {
    const rateKPerS = chance.spread(0.3, 1.5);
    const heaterLagS = chance.between(2, 14);
    const sensorLagS = chance.between(1, 6);
    const delayS = chance.between(0.5, 4);
    // Tuned as a careful maker does, by the apparent dead time and the rate of rise; some keener, some lazier.
    const apparentS = heaterLagS + sensorLagS + delayS;
    const gainPerK = chance.between(0.25, 0.6) / (rateKPerS * apparentS);
    return {
      rateKPerS,
      steadyPower: chance.between(0.15, 0.5),
      heaterLagS,
      sensorLagS,
      delayS,
      couplingPerS: chance.between(0, 1 / 800),
      radiation: chance.between(0, 0.4),
      controller: {
        kind: onOff ? 'onOff' : 'pid',
        periodS: chance.pick([0.2, 0.5, 1, 2]),
        gainPerK,
        integralTimeS: chance.spread(80, 300),
        derivativeTimeS: chance.next() < 0.4 ? chance.between(0.2, 0.5) * apparentS : 0,
        hysteresisK: chance.between(0.5, 2.5),
        windowS: onOff ? 0 : windowS,
      },
    };
  });
  const readingsPerS = chance.pick([1, 1, 2, 2, 2, 5, 5, 5, 5, 10, 10, 10, 50]);
  // A board that sends too seldom for its switching window does not show its power by what its switch does.
  const switchTells = windowS * readingsPerS >= 10 && chance.next() < 0.5;
  return {
    zones,
    roomC: chance.between(10, 32),
    readingsPerS,
    noiseK: chance.between(0, 0.25),
    wanderK: chance.next() < 0.5 ? 0 : chance.between(0, 0.15),
    wanderS: chance.between(3, 15),
    resolutionK: chance.pick([0, 0, 0, 0.0625, 0.1, 0.25, 0.5, 1]),
    powerTold: blind ? 'none' : switchTells ? 'switch' : 'share',
  };
}
