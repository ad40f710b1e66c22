/** Round values from `from` to `to`, about `most` of them at most: steps of 1, 2 or 5 × a power of ten. */
export function roundTicks(from: number, to: number, most: number): number[] {
  const span = to - from;
  if (!(span > 0) || most < 1) return [];
  const rough = span / most;
  const power = 10 ** Math.floor(Math.log10(rough));
  const step = [1, 2, 5].map((k) => k * power).find((one) => one >= rough * (1 - 1e-9)) ?? 10 * power;
  const out: number[] = [];
  // + 0 turns −0 into 0. Rounding is needed because 0.1 × 3 is a little more than 0.3.
  for (let k = Math.ceil(from / step - 1e-9) + 0; k * step <= to + step * 1e-9; k += 1) {
    out.push(Number((k * step).toPrecision(12)));
  }
  return out;
}

/** Powers of ten, with 2 and 5 between them where few fit, from `from` to `to`. */
export function logTicks(from: number, to: number): number[] {
  if (!(from > 0) || !(to > from)) return [];
  const decades = Math.log10(to / from);
  const steps = decades > 3 ? [1] : decades > 1.5 ? [1, 3] : [1, 2, 5];
  const out: number[] = [];
  for (let power = Math.floor(Math.log10(from)); power <= Math.ceil(Math.log10(to)); power += 1) {
    for (const step of steps) {
      const value = step * 10 ** power;
      if (value >= from * (1 - 1e-9) && value <= to * (1 + 1e-9)) out.push(value);
    }
  }
  return out;
}

/** The same, with a finer step where a round one gives a single tick, which shows no scale. */
export function twoTicksAtLeast(from: number, to: number, most: number): number[] {
  for (let finer = most; finer <= 4 * most; finer += 1) {
    const found = roundTicks(from, to, finer);
    if (found.length >= 2) return found;
  }
  return roundTicks(from, to, most);
}

/** Decimals that the step between ticks needs; a single tick needs its own. */
export function tickDigits(values: readonly number[]): number {
  const [first = 0, second] = values;
  if (values.length === 1) return [0, 1, 2, 3, 4].find((n) => Number(first.toFixed(n)) === first) ?? 5;
  const step = second === undefined ? 1 : second - first;
  return step === 0 ? 0 : Math.max(0, -Math.floor(Math.log10(Math.abs(step)) + 1e-9));
}
