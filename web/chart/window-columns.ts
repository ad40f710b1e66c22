import type { WindowView } from '../../server/api/contract/runs-and-spools.ts';

export type Column = (number | null)[];

/** A window as arrays to draw: one x for each column that has readings, and a null where readings are missing. */
export interface DrawnWindow {
  readonly x: number[];
  /** Gauge length of each x. */
  readonly gaugeMm: Column;
  /** min, max and mean for each requested signal, in that order. */
  readonly signals: readonly { readonly min: Column; readonly max: Column; readonly mean: Column }[];
}

/**
 * Columns without readings are left out where they are only thinner than the readings (zoomed in), and become a gap
 * where more than `gapColumns` in a row are empty.
 */
export function drawnWindow(window: WindowView, names: readonly string[], gapColumns = 3): DrawnWindow {
  const x: number[] = [];
  const gaugeMm: Column = [];
  const signals = names.map((name) => ({
    stored: window.signals[name],
    min: [] as Column,
    max: [] as Column,
    mean: [] as Column,
  }));
  const step = (window.to - window.from) / Math.max(1, window.count.length);
  const typical = typicalDistance(window.count);
  const gap = Math.max(gapColumns, typical * gapColumns);
  let before = -1;
  for (let i = 0; i < window.count.length; i += 1) {
    if (window.count[i] === 0) continue;
    if (before >= 0 && i - before > gap) {
      x.push(window.from + ((before + i + 1) / 2) * step);
      gaugeMm.push(null);
      for (const signal of signals) for (const column of [signal.min, signal.max, signal.mean]) column.push(null);
    }
    x.push(window.from + (i + 0.5) * step);
    gaugeMm.push(window.gaugeMm[i] ?? null);
    for (const { stored, min, max, mean } of signals) {
      min.push(stored?.min[i] ?? null);
      max.push(stored?.max[i] ?? null);
      mean.push(stored?.mean[i] ?? null);
    }
    before = i;
  }
  return { x, gaugeMm, signals: signals.map(({ min, max, mean }) => ({ min, max, mean })) };
}

/** Median distance, in columns, between columns with readings: 1 unless zoomed in beyond the readings. */
function typicalDistance(counts: readonly number[]): number {
  const distances: number[] = [];
  let before = -1;
  for (let i = 0; i < counts.length; i += 1) {
    if (counts[i] === 0) continue;
    if (before >= 0) distances.push(i - before);
    before = i;
  }
  distances.sort((a, b) => a - b);
  return distances[Math.floor(distances.length / 2)] ?? 1;
}

/** Smallest and largest value of columns; null if there is none. */
export function extremes(columns: readonly Column[]): [number, number] | null {
  let low = Number.POSITIVE_INFINITY;
  let high = Number.NEGATIVE_INFINITY;
  for (const column of columns) {
    for (const value of column) {
      if (value === null) continue;
      if (value < low) low = value;
      if (value > high) high = value;
    }
  }
  return low <= high ? [low, high] : null;
}
