/**
 * Mean of the absolute difference of two independent normal values, in standard deviations: exactly 2/√π, which printed
 * tables of control chart factors round to d2 = 1.128.
 */
export const D2 = 2 / Math.sqrt(Math.PI);
