import { studentHalfWidth } from '../../server/probability/student-t.ts';

/** The raw values of the gauge with a pin of known diameter (mm) in it, one for each time it was read. */
export interface PinReading {
  readonly knownMm: number;
  readonly shown: readonly number[];
}

interface Residual {
  readonly knownMm: number;
  /** What the calibrated gauge shows for the pin, less its diameter. */
  readonly offMm: number;
  readonly readings: number;
}

export interface Calibration {
  readonly factor: number;
  readonly offset: number;
  readonly residuals: readonly Residual[];
  /** Expanded uncertainty (k = 2) between the thinnest and the thickest pin; null = too few pins to tell. */
  readonly uncertaintyMm: number | null;
  /** A caution about the result; null = none. */
  readonly warning: string | null;
}

/** Why no calibration follows from the pins, and what to do. */
export interface CalibrationFault {
  readonly fault: string;
}

/** Pins closer together than this give a poor slope (common practice, no source), mm. */
const APART_MM = 0.2;
/** Combined uncertainty of a pin and its reading (common practice, no source), mm. */
const READING_ERROR_MM = 0.005;
/** Pins of the usual class are good to this (common practice, no source), mm. */
export const PIN_ERROR_MM = 0.002;
/** A pin further off the line than this was misread, or is another pin (common practice, no source), mm. */
const MISREAD_MM = 0.02;
/** Two pins always lie on a line: only a third one shows how well the gauge follows it. */
const PINS_TO_JUDGE = 3;

/**
 * Factor and offset of value = shown × factor + offset, by least squares through all readings of the pins. One pin gives
 * only the offset. The uncertainty is that of the line where it is least known (Student's t of its residuals), the largest
 * residual, and the pins' own, added as squares (GUM, JCGM 100:2008, 5.1.2).
 */
export function calibrate(
  pins: readonly PinReading[],
  factorNow: number,
  pinErrorMm = PIN_ERROR_MM,
): Calibration | CalibrationFault {
  const read = pins.filter(({ shown }) => shown.length > 0);
  const [one] = read;
  if (one === undefined) return { fault: 'No pin has been read yet.' };
  if (read.length === 1) return offsetOnly(one, factorNow);
  const known = read.map(({ knownMm }) => knownMm);
  const apartMm = Math.max(...known) - Math.min(...known);
  if (!(apartMm > 0))
    return {
      fault: `All pins are ${known[0]} mm thick, so no scale can be computed. Take pins of different diameters.`,
    };
  const points = read.flatMap(({ knownMm, shown }) => shown.map((raw) => ({ knownMm, raw })));
  const line = straightLine(points);
  if (line === null) return { fault: 'All pins read the same, so no scale can be computed.' };
  const order = orderFault(read, line.factor, factorNow);
  if (order !== null) return { fault: order };
  const residuals = read.map(({ knownMm, shown }) => ({
    knownMm,
    offMm: meanOf(shown) * line.factor + line.offset - knownMm,
    readings: shown.length,
  }));
  const distinct = new Set(known).size;
  return {
    factor: line.factor,
    offset: line.offset,
    residuals,
    uncertaintyMm: distinct < PINS_TO_JUDGE ? null : uncertaintyOf(points, line, residuals, pinErrorMm),
    warning: warningOf(residuals, apartMm, distinct),
  };
}

function offsetOnly({ knownMm, shown }: PinReading, factor: number): Calibration {
  return {
    factor,
    offset: knownMm - factor * meanOf(shown),
    residuals: [],
    uncertaintyMm: null,
    warning: 'One pin sets the offset only: a second one, as far from it as the strand varies, sets the factor too.',
  };
}

interface Point {
  readonly knownMm: number;
  readonly raw: number;
}

interface Line {
  readonly factor: number;
  readonly offset: number;
  readonly meanRaw: number;
  readonly squaresRaw: number;
}

function straightLine(points: readonly Point[]): Line | null {
  const meanRaw = meanOf(points.map(({ raw }) => raw));
  const meanKnown = meanOf(points.map(({ knownMm }) => knownMm));
  let [products, squaresRaw] = [0, 0];
  for (const { knownMm, raw } of points) {
    products += (raw - meanRaw) * (knownMm - meanKnown);
    squaresRaw += (raw - meanRaw) ** 2;
  }
  const factor = products / squaresRaw;
  if (!Number.isFinite(factor) || factor === 0) return null;
  return { factor, offset: meanKnown - factor * meanRaw, meanRaw, squaresRaw };
}

/** A thicker pin must always show more, or (of some raw counts) always less. */
function orderFault(read: readonly PinReading[], factor: number, factorNow: number): string | null {
  const sorted = read.toSorted((a, b) => a.knownMm - b.knownMm);
  const rising = factor > 0 ? 1 : -1;
  for (const [i, pin] of sorted.entries()) {
    const next = sorted[i + 1];
    if (next === undefined || next.knownMm === pin.knownMm) continue;
    if (rising * (meanOf(next.shown) - meanOf(pin.shown)) > 0) continue;
    return `The pin of ${next.knownMm} mm and that of ${pin.knownMm} mm are in the wrong order: were they mixed up? Read both again.`;
  }
  if (factor > 0 || factorNow < 0 || sorted.length >= PINS_TO_JUDGE) return null;
  return 'The gauge shows less for the thicker pin: were the two mixed up? If it counts downwards, read a third pin.';
}

function uncertaintyOf(
  points: readonly Point[],
  line: Line,
  residuals: readonly Residual[],
  pinErrorMm: number,
): number {
  const n = points.length;
  const squares = points.reduce((sum, { raw, knownMm }) => sum + (raw * line.factor + line.offset - knownMm) ** 2, 0);
  const sd = Math.sqrt(squares / (n - 2));
  const farthest = Math.max(...points.map(({ raw }) => (raw - line.meanRaw) ** 2));
  const ofLine = studentHalfWidth(0.95, n - 2) * sd * Math.sqrt(1 / n + farthest / line.squaresRaw);
  return Math.hypot(ofLine, Math.max(...residuals.map(({ offMm }) => Math.abs(offMm))), pinErrorMm);
}

function warningOf(residuals: readonly Residual[], apartMm: number, distinct: number): string | null {
  const worst = residuals.toSorted((a, b) => Math.abs(b.offMm) - Math.abs(a.offMm))[0];
  if (worst !== undefined && Math.abs(worst.offMm) > MISREAD_MM)
    return `The pin of ${worst.knownMm} mm is ${Math.abs(worst.offMm).toFixed(3)} mm off the line: read it again. Is it the right pin, and clean?`;
  if (apartMm < APART_MM) {
    const percent = (100 * 2 * READING_ERROR_MM) / apartMm;
    return `The pins are only ${apartMm.toFixed(2)} mm apart: an error of ${READING_ERROR_MM} mm at each makes the factor wrong by up to ${percent.toFixed(0)} %. Take pins such as 1.50 and 2.00 mm.`;
  }
  return distinct < PINS_TO_JUDGE
    ? 'A third pin between the two shows how well the gauge follows the line, and gives its uncertainty.'
    : null;
}

function meanOf(values: readonly number[]): number {
  return values.reduce((sum, value) => sum + value, 0) / values.length;
}
