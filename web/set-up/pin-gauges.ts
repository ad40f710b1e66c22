/** What the gauge shows, raw, while a pin of known diameter (mm) lies in it. */
export interface PinReading {
  readonly knownMm: number;
  readonly shown: number;
}

export interface Calibration {
  readonly factor: number;
  readonly offset: number;
  /** What is to be known of it, a sentence; null = nothing. */
  readonly warning: string | null;
}

/** Pins closer together than this tell a slope badly (common practice, no source), mm. */
const APART_MM = 0.2;
/** How well a pin and a reading of it are known together (common practice, no source), mm. */
const READING_ERROR_MM = 0.005;

/**
 * Factor and offset of value = shown × factor + offset from one or two pins. Two: the straight line through both points,
 * factor = (known₂ − known₁) / (shown₂ − shown₁), offset = known₁ − factor × shown₁ (common practice, no source: the
 * two-point form of a straight line). One: the offset alone, the factor as it is. null = no line goes through them.
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
        ? `The pins lie only ${apartMm.toFixed(2)} mm apart: an error of ${READING_ERROR_MM} mm at each makes the factor wrong by up to ${percent.toFixed(0)} %. Take pins such as 1.50 and 2.00 mm.`
        : null;
  return { factor, offset: one.knownMm - factor * one.shown, warning };
}
