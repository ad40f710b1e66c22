/** Cells of a tally per millimetre. 10 nm fit what gauges send in µm and in inches: 0.00005 in are 127 cells. */
export const CELLS_A_MM = 100_000;

/** No bench gauge resolves finer steps than these (0.1 µm), in cells: its readings may take any value. */
export const FINEST = CELLS_A_MM / 10_000;
/** A gauge that sends more different diameters than this has no steps; they are then rounded to `FINEST`. */
const MANY = 10_000;

/** Length of strand for each diameter that was read. Parallel arrays, thinnest first. */
export interface DiameterTally {
  /** Diameters in cells: whole numbers, so that equal diameters compare equal in spite of floating point. */
  readonly cells: Float64Array;
  readonly lengthsMm: Float64Array;
  readonly readings: Float64Array;
}

/** Diameters that are not finite are left out. */
export function tallyDiameters(diameterMm: ArrayLike<number>, weightsMm: ArrayLike<number>): DiameterTally {
  const table = new TallyTable();
  for (let i = 0; i < diameterMm.length; i++) {
    const mm = diameterMm[i]!;
    if (Number.isFinite(mm)) table.add(Math.round(mm * CELLS_A_MM), weightsMm[i]!, 1);
  }
  return coarsened(table.tally());
}

export function mergeTallies(tallies: readonly DiameterTally[]): DiameterTally {
  const table = new TallyTable();
  for (const { cells, lengthsMm, readings } of tallies) {
    for (let i = 0; i < cells.length; i++) table.add(cells[i]!, lengthsMm[i]!, readings[i]!);
  }
  return table.tally();
}

function coarsened(tally: DiameterTally): DiameterTally {
  const { cells, lengthsMm, readings } = tally;
  if (cells.length <= MANY) return tally;
  const table = new TallyTable();
  cells.forEach((cell, i) => {
    table.add(Math.round(cell / FINEST) * FINEST, lengthsMm[i]!, readings[i]!);
  });
  return table.tally();
}

class TallyTable {
  readonly #sums = new Map<number, { lengthMm: number; readings: number }>();

  add(cell: number, lengthMm: number, readings: number): void {
    const sum = this.#sums.get(cell);
    if (sum === undefined) {
      this.#sums.set(cell, { lengthMm, readings });
      return;
    }
    sum.lengthMm += lengthMm;
    sum.readings += readings;
  }

  tally(): DiameterTally {
    const sorted = [...this.#sums].sort(([a], [b]) => a - b);
    return {
      cells: Float64Array.from(sorted, ([cell]) => cell),
      lengthsMm: Float64Array.from(sorted, ([, { lengthMm }]) => lengthMm),
      readings: Float64Array.from(sorted, ([, { readings }]) => readings),
    };
  }
}
