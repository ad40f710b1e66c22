import { incompleteBeta } from './beta.ts';

/** Probability that a Student t variable is further from 0 than `t`, on either side. Degrees of freedom need not be whole. */
export function studentTwoSided(t: number, degreesOfFreedom: number): number {
  if (!(degreesOfFreedom > 0)) throw new RangeError(`degrees of freedom must be above 0, not ${degreesOfFreedom}`);
  return incompleteBeta(degreesOfFreedom / (degreesOfFreedom + t * t), degreesOfFreedom / 2, 0.5);
}

/** Half width, in standard errors, of the interval with the given confidence. */
export function studentHalfWidth(confidence: number, degreesOfFreedom: number): number {
  if (!(confidence > 0 && confidence < 1)) throw new RangeError(`a confidence of ${confidence} is not between 0 and 1`);
  const outside = 1 - confidence;
  let low = 0;
  let high = 1;
  while (studentTwoSided(high, degreesOfFreedom) > outside) high *= 2;
  for (let round = 0; round < 60; round++) {
    const middle = (low + high) / 2;
    if (studentTwoSided(middle, degreesOfFreedom) > outside) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}
