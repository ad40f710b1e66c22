import { CELLS_A_MM, type DiameterTally, FINEST } from './diameter-tally.ts';

/** The resolution of a gauge: the equally spaced diameters that it can send, in cells of a tally. */
export interface GaugeSteps {
  readonly step: number;
  /** One of these diameters. */
  readonly anchor: number;
  /** Single readings may fall between the steps, at multiples of this from the anchor. The step is a multiple of it. */
  readonly fine: number;
}

/** At most this share of the readings may fall between the steps, because of a filter or a glitch. */
const STRAY_SHARE = 0.01;
/** Coarser steps (0.05 mm) mean that few diameters were read, and say nothing about the gauge. */
const COARSEST = CELLS_A_MM / 20;
/** Assumed where only one diameter was read: 1 µm, as most gauges resolve. */
const USUAL = CELLS_A_MM / 1000;
/** From this many diameters on, steps that were rounded before sending can be distinguished from chance. */
const ENOUGH_DIAMETERS = 12;

/** The gauge's resolution, as far as the readings show it. */
export function gaugeSteps(tally: DiameterTally): GaugeSteps {
  const { cells } = tally;
  const anchor = mostRead(tally);
  const usual = usualCells(tally);
  const step = commonStep(usual, anchor);
  const fine = commonStep(cells, anchor);
  const rounded = roundedSteps(usual, step);
  if (rounded !== null) return rounded;
  if (step === 0) return fine >= FINEST ? within(fine, anchor) : { step: USUAL, anchor, fine: USUAL };
  if (step < FINEST) return { step: FINEST, anchor, fine: 1 };
  return step > COARSEST ? within(step, anchor) : { step, anchor, fine };
}

/** Divides steps that are too coarse evenly, so that all readings still fall on them. */
function within(step: number, anchor: number): GaugeSteps {
  const finer = step / Math.ceil(step / COARSEST);
  return { step: finer, anchor, fine: finer };
}

function mostRead({ cells, readings }: DiameterTally): number {
  let most = 0;
  for (let i = 1; i < cells.length; i++) if (readings[i]! > readings[most]!) most = i;
  return cells[most] ?? 0;
}

/** All diameters but the rarest, which may be strays. */
function usualCells({ cells, readings }: DiameterTally): Float64Array {
  const total = readings.reduce((sum, count) => sum + count, 0);
  const rarestFirst = Array.from(cells.keys()).sort((a, b) => readings[a]! - readings[b]!);
  const stray = new Set<number>();
  let left = STRAY_SHARE * total;
  for (const i of rarestFirst) {
    left -= readings[i]!;
    if (left < 0) break;
    stray.add(i);
  }
  return cells.filter((_, i) => !stray.has(i));
}

/** The largest step that reaches all cells from the anchor; 0 = there is only the anchor. */
function commonStep(cells: Float64Array, anchor: number): number {
  return greatestStep(cells.map((cell) => cell - anchor));
}

/** The greatest common divisor of whole numbers; 0 = all are 0. */
export function greatestStep(lengths: ArrayLike<number>): number {
  let step = 0;
  for (let i = 0; i < lengths.length && step !== 1; i++) {
    let remainder = Math.abs(lengths[i]!);
    while (remainder > 0) [step, remainder] = [remainder, step % remainder];
  }
  return step;
}

/**
 * Steps that do not fit the unit in which they were sent: 0.0005 in, sent as mm with three decimals, are 12 or 13 µm apart.
 * @param unit all cells are multiples of it
 * @returns null where the cells are not such steps
 */
function roundedSteps(cells: Float64Array, unit: number): GaugeSteps | null {
  if (cells.length < ENOUGH_DIAMETERS) return null;
  const gaps = cells.subarray(1).map((cell, i) => cell - cells[i]!);
  // Shortest first: each refines the step with which the longer gaps are counted.
  let [length, count] = [0, 0];
  for (const gap of gaps.toSorted()) {
    count += count === 0 ? 1 : Math.round(gap / (length / count));
    length += gap;
  }
  const about = length / count;
  if (about < 3 * unit || about > COARSEST) return null;
  let steps = 0;
  const at = [steps];
  for (const gap of gaps) {
    steps += Math.round(gap / about);
    at.push(steps);
  }
  const { step, anchor } = straightLine(at, cells);
  const fits = at.every((k, i) => Math.abs(anchor + k * step - cells[i]!) <= 0.55 * unit);
  return fits ? { step, anchor, fine: step } : null;
}

/** Straight line by least squares. */
function straightLine(x: readonly number[], y: Float64Array): { readonly step: number; readonly anchor: number } {
  const n = x.length;
  const meanX = x.reduce((sum, value) => sum + value, 0) / n;
  const meanY = y.reduce((sum, value) => sum + value, 0) / n;
  let [xy, xx] = [0, 0];
  for (let i = 0; i < n; i++) {
    xy += (x[i]! - meanX) * (y[i]! - meanY);
    xx += (x[i]! - meanX) ** 2;
  }
  return { step: xy / xx, anchor: meanY - (xy / xx) * meanX };
}
