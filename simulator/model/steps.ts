/**
 * The model's two clocks. The strand moves in steps of 5 ms (0.18 mm at 35 mm/s, finer than the shortest blob); heat and
 * the puller's loop, which are slow, move in steps of 100 ms. Neither depends on the rate of the reading lines, so that
 * the same line is made whatever the device samples.
 */
export const STRAND_STEP_S = 0.005;

export const STRAND_STEPS_PER_S = 200;

export const SLOW_STEP_S = 0.1;

export const STRAND_STEPS_PER_SLOW_STEP = 20;
