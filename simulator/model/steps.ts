/**
 * The two step sizes of the model. The strand moves in steps of 5 ms (0.18 mm at 35 mm/s, less than the shortest blob).
 * Heat and the puller's loop are slow and have steps of 100 ms. Neither depends on the rate of the reading lines, so that
 * the strand is the same at any rate.
 */
export const STRAND_STEP_S = 0.005;

export const STRAND_STEPS_PER_S = 200;

export const SLOW_STEP_S = 0.1;

export const STRAND_STEPS_PER_SLOW_STEP = 20;
