/** The properties of the line that do not change while it runs. */

import type { Random } from './random.ts';

export interface ZonePlant {
  /** Steady rise above room temperature at full power, without neighbours, K. */
  readonly gainK: number;
  readonly timeConstantS: number;
  /** From heater to sensor. */
  readonly deadTimeS: number;
  /** Heat exchange with each neighbour, as a share of the loss to the room. */
  readonly coupling: number;
}

export interface Plant {
  readonly zones: readonly ZonePlant[];
  readonly roomC: number;
  readonly roomHumidityPercent: number;
  readonly nominalMm: number;
  /** Volume per turn of the screw with a full hopper, mm³. */
  readonly flowPerTurnMm3: number;
  /** Amplitude of the surging, as a share of the flow. */
  readonly surgeShare: number;
  /** Standard deviation of the slow random change of the feed, as a share of the flow. */
  readonly feedWanderShare: number;
  /** Standard deviation of the fine texture at the die, as a share of the flow. */
  readonly textureShare: number;
  readonly dieToGaugeMm: number;
  /** Circumference of the puller's roller. */
  readonly rollerCircumferenceMm: number;
  /** Amplitude of the roller's run-out, as a share of the speed. */
  readonly runOutShare: number;
  /** Standard deviation of one conversion of the gauge; a reading is the mean of several. */
  readonly gaugeNoiseMm: number;
  /** Half the difference of the two axes, as a share of the diameter. */
  readonly ovalityShare: number;
}

/**
 * A small three-zone bench extruder for 1.75 mm filament. The ranges are common practice, no source: zone time constant
 * 60–300 s, dead time 5–20 s, 0.3–1.5 K/s at full power, 0.15–0.5 steady power, 0.1–1 kg/h.
 */
export const STANDARD_PLANT: Plant = {
  zones: [
    { gainK: 430, timeConstantS: 300, deadTimeS: 10, coupling: 0.12 },
    { gainK: 450, timeConstantS: 280, deadTimeS: 8, coupling: 0.12 },
    { gainK: 420, timeConstantS: 220, deadTimeS: 6, coupling: 0.08 },
  ],
  roomC: 21,
  roomHumidityPercent: 45,
  nominalMm: 1.75,
  flowPerTurnMm3: 210,
  surgeShare: 0.008,
  feedWanderShare: 0.009,
  textureShare: 0.005,
  dieToGaugeMm: 600,
  rollerCircumferenceMm: 157,
  runOutShare: 0.003,
  gaugeNoiseMm: 0.012,
  ovalityShare: 0.004,
};

/** The same plant with a few per cent of scatter, because no two machines and no two evenings are alike. */
export function scatterPlant(plant: Plant, random: Random): Plant {
  const near = (value: number) => value * random.between(0.93, 1.07);
  return {
    ...plant,
    zones: plant.zones.map((zone) => ({
      gainK: near(zone.gainK),
      timeConstantS: near(zone.timeConstantS),
      deadTimeS: near(zone.deadTimeS),
      coupling: near(zone.coupling),
    })),
    roomC: plant.roomC + random.between(-3, 4),
    roomHumidityPercent: plant.roomHumidityPercent + random.between(-12, 12),
    flowPerTurnMm3: plant.flowPerTurnMm3 * random.between(0.985, 1.015),
  };
}
