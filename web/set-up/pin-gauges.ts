/** The raw value of the gauge with a pin of known diameter (mm) in it. */
export interface PinReading {
  readonly knownMm: number;
  readonly shown: number;
}

export interface Calibration {
  readonly factor: number;
  readonly offset: number;
  /** A caution about the result; null = none. */
  readonly warning: string | null;
}

/** Pins closer together than this give a poor slope (common practice, no source), mm. */
const APART_MM = 0.2;
/** Combined uncertainty of a pin and its reading (common practice, no source), mm. */
const READING_ERROR_MM = 0.005;

/**
 * Factor and offset of value = shown × factor + offset from one or two pins. Two pins give the straight line through both
 * points: factor = (known₂ − known₁) / (shown₂ − shown₁), offset = known₁ − factor × shown₁ (common practice, no source:
 * the two-point form of a straight line). One pin gives only the offset. null = no line goes through the points.
 */
export function calibrate(pins: readonly PinReading[], factorNow: number): Calibration | null {
  const [one, two] = pins;
  if (one === undefined) return null;
  if (two === undefined) {
    return {
      factor: factorNow,
      offset: one.knownMm - factorNow * one.shown,
      warning: 'One pin sets the offset only: a second one, as far from it as the strand varies, sets the factor too.',
    };
  }
  const factor = (two.knownMm - one.knownMm) / (two.shown - one.shown);
  if (!Number.isFinite(factor) || factor === 0) return null;
  const apartMm = Math.abs(two.knownMm - one.knownMm);
  const percent = (100 * 2 * READING_ERROR_MM) / apartMm;
  const warning =
    factor < 0
      ? 'The gauge shows less for the thicker pin: were the two mixed up?'
      : apartMm < APART_MM
        ? `The pins are only ${apartMm.toFixed(2)} mm apart: an error of ${READING_ERROR_MM} mm at each makes the factor wrong by up to ${percent.toFixed(0)} %. Take pins such as 1.50 and 2.00 mm.`
        : null;
  return { factor, offset: one.knownMm - factor * one.shown, warning };
}
