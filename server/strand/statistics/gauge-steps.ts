import { CELLS_A_MM, type DiameterTally, FINEST } from './diameter-tally.ts';

/** The diameters that a gauge can send: equal steps, in cells of a tally. */
export interface GaugeSteps {
  readonly step: number;
  /** One of these diameters. */
  readonly anchor: number;
  /** Single readings may lie between the steps, at multiples of this from the anchor; the step is a multiple of it too. */
  readonly fine: number;
}

/** So large a share of the readings may lie beside the steps: what a filter or a glitch made. */
const STRAY_SHARE = 0.01;
/** Coarser ones (0.05 mm) say that few diameters came, not how the gauge reads. */
const COARSEST = CELLS_A_MM / 20;
/** Where only one diameter came: as most gauges read, 1 µm. */
const USUAL = CELLS_A_MM / 1000;
/** Steps that were rounded when they were sent are told from chance by so many diameters. */
const ENOUGH_DIAMETERS = 12;

/** What the readings show of the gauge's resolution. */
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

/** Steps that are too coarse, divided evenly: what was read still lies on them. */
function within(step: number, anchor: number): GaugeSteps {
  const finer = step / Math.ceil(step / COARSEST);
  return { step: finer, anchor, fine: finer };
}

function mostRead({ cells, readings }: DiameterTally): number {
  let most = 0;
  for (let i = 1; i < cells.length; i++) if (readings[i]! > readings[most]!) most = i;
  return cells[most] ?? 0;
}

/** Without the diameters that came least often, as far as these may be strays. */
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

/** The largest step from the anchor that leads to all of them; 0 = there is no other. */
function commonStep(cells: Float64Array, anchor: number): number {
  return greatestStep(cells.map((cell) => cell - anchor));
}

/** The greatest common divisor of whole numbers; 0 = all are. */
export function greatestStep(lengths: ArrayLike<number>): number {
  let step = 0;
  for (let i = 0; i < lengths.length && step !== 1; i++) {
    let rest = Math.abs(lengths[i]!);
    while (rest > 0) [step, rest] = [rest, step % rest];
  }
  return step;
}

/**
 * Steps that do not fit the unit that they were sent in: 0.0005 in, sent as mm with three decimals, come 12 or 13 µm apart.
 * @param unit that all the cells are multiples of
 * @returns null where the cells are no such steps
 */
function roundedSteps(cells: Float64Array, unit: number): GaugeSteps | null {
  if (cells.length < ENOUGH_DIAMETERS) return null;
  const gaps = cells.subarray(1).map((cell, i) => cell - cells[i]!);
  // The shortest first: each makes the step surer by which the longer ones are counted.
  let [length, count] = [0, 0];
  for (const gap of gaps.toSorted()) {
    count += count === 0 ? 1 : Math.round(gap / (length / count));
    length += gap;
  }
  const about = length / count;
  if (about < 3 * unit || about > COARSEST) return null;
  const at = [0];
  for (const gap of gaps) at.push(at.at(-1)! + Math.round(gap / about));
  const { step, anchor } = straightLine(at, cells);
  const fits = at.every((k, i) => Math.abs(anchor + k * step - cells[i]!) <= 0.55 * unit);
  return fits ? { step, anchor, fine: step } : null;
}

/** Least squares. */
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
