/**
 * Factors for moving ranges of two values, exact: for a normal variable |x₂ − x₁| has mean 2σ/√π and standard deviation
 * σ√(2 − 4/π). Printed tables round d2, d3 and D4 to 1.128, 0.853 and 3.267.
 */
export const D2 = 2 / Math.sqrt(Math.PI);
const D3 = Math.sqrt(2 - 4 / Math.PI);
/** Upper limit of the moving-range chart = D4 · mean moving range. */
export const D4 = 1 + (3 * D3) / D2;
