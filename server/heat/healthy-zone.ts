/**
 * What a healthy heated zone can and cannot do: the bounds for all heat rules while nothing is learnt from the line. Common
 * practice, no source: a zone is first order with dead time, time constant 60–300 s (heavy barrels up to 1500 s), dead time
 * 5–20 s, 0.3–1.5 °C/s at full power from cold, steady power 0.15–0.5. The bounds below are a little wider. Small bands
 * of some 40 W are slower: 0.12–0.3 °C/s, and a minute or two until the rise is complete.
 */

/** Power up to this counts as none. */
export const NO_POWER = 0.02;
/** A heat-up has more power than this. */
export const HEATS_WITH = 0.3;
/** Longest time from a change of power to a change of the reading, s. */
export const LONGEST_DEAD_TIME_S = 22;
/** Shortest time from a change of power to a change of the reading, s. */
export const SHORTEST_DEAD_TIME_S = 2;
/** Slowest rise of a usual zone from cold at full power, K/s. */
export const LEAST_HEATING_RATE_K_PER_S = 0.25;
/** Fastest change of temperature of a heated mass of metal, K/s. */
export const FASTEST_RATE_K_PER_S = 5;
/** Heating by one neighbouring zone: K/s for each kelvin by which the neighbour is hotter. */
export const NEIGHBOUR_RATE_PER_S = 1 / 700;
/** The same on a small, slow barrel. */
export const NEIGHBOUR_RATE_OF_SLOW_PER_S = 1 / 300;
/** The least that a neighbour warms such a zone. */
export const LEAST_NEIGHBOUR_RATE_OF_SLOW_PER_S = 1 / 900;
/**
 * The slowest healthy zone: one of a small bench extruder, whose band of 40 W warms 330 J/K through a clamp that takes its time
 * (common practice, no source). Whatever warms faster than it also does so without its neighbours.
 */
export const SLOWEST = { rateKPerS: 0.12, deadTimeS: 6, lagS: 60, secondLagS: 30 } as const;
/** Fastest rise of a healthy zone at full power, K/s. */
export const GREATEST_HEATING_RATE_K_PER_S = 1.5;
/** Heat that cold stock, a fan or a draught may take from a zone at 200 °C, as a share of full power. */
export const GREATEST_LOAD = 0.2;
/** The same while the zone is too cool for stock to be fed. */
const LOAD_WHILE_COOL = 0.05;
/** Below this no stock is fed, °C. */
const COOL_BELOW_C = 100;
/** Room temperature assumed where none is sent, °C. */
export const ROOM_C = 20;
/** A zone below this counts as cold and is not watched closely, °C. */
export const COLD_BELOW_C = 50;

/** Greatest power that a healthy zone may need to hold a temperature: 0.55 at 200 °C. */
export function greatestHoldingPower(temperatureC: number): number {
  return Math.min(0.7, (0.55 * Math.max(0, temperatureC - ROOM_C)) / 180);
}

/** Heat that a load may take from a zone at a temperature, as a share of full power. */
export function greatestLoad(temperatureC: number): number {
  return temperatureC < COOL_BELOW_C ? LOAD_WHILE_COOL : GREATEST_LOAD;
}
