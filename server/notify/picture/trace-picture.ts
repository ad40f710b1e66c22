import type { Picture } from '../../escalation/message.ts';
import { GLYPH_HEIGHT, textWidth, write } from './pixel-font.ts';
import { Canvas, encodePng } from './png.ts';

/** Readings of a stretch of strand and its limits; lengths in mm. */
export interface Trace {
  readonly spoolOrdinal: number;
  readonly fromSpoolMm: number;
  readonly toSpoolMm: number;
  readonly positionMm: Float64Array;
  /** NaN = no reading. */
  readonly diameterMm: Float64Array;
  readonly section: { readonly fromMm: number; readonly toMm: number };
  readonly limits: {
    readonly nominalMm: number;
    readonly toleranceMm: number;
    readonly hotendLimitMm: number;
    readonly smallestFeedableMm: number;
  };
}

const WIDTH = 640;
const HEIGHT = 260;
const PLOT = { left: 84, right: WIDTH - 14, top: 14, bottom: HEIGHT - 40 };
const SCALE = 2;
const LEAST_MARGIN_MM = 0.03;

/** Indices into the palette. */
const PAPER = 0;
const INK = 1;
const AXIS = 2;
const BAND = 3;
const SECTION = 4;
const DANGER = 5;
const PALETTE = [0xffffff, 0x16201e, 0x8a9591, 0xdcefe4, 0xfbdfdc, 0xc4161c];

/** Draws the trace around a section: each column shows its smallest and its largest reading. */
export function tracePicture(trace: Trace): Picture | null {
  const { limits, section, fromSpoolMm, toSpoolMm } = trace;
  const columns = columnsOf(trace);
  const known = columns.filter((column) => column !== null);
  if (known.length === 0) return null;
  const lowest = Math.min(...known.map(([low]) => low));
  const highest = Math.max(...known.map(([, high]) => high));
  const bottomMm = Math.min(lowest, limits.nominalMm - limits.toleranceMm) - LEAST_MARGIN_MM;
  const topMm = Math.max(highest, limits.hotendLimitMm) + LEAST_MARGIN_MM;
  const y = (mm: number) => PLOT.bottom - ((mm - bottomMm) / (topMm - bottomMm)) * (PLOT.bottom - PLOT.top);
  const x = (mm: number) => PLOT.left + ((mm - fromSpoolMm) / (toSpoolMm - fromSpoolMm)) * (PLOT.right - PLOT.left);

  const canvas = new Canvas(WIDTH, HEIGHT);
  canvas.box(0, 0, WIDTH, HEIGHT, PAPER);
  canvas.box(
    PLOT.left,
    y(limits.nominalMm + limits.toleranceMm),
    PLOT.right,
    y(limits.nominalMm - limits.toleranceMm),
    BAND,
  );
  const marked = { left: Math.max(PLOT.left, x(section.fromMm) - 2), right: Math.min(PLOT.right, x(section.toMm) + 2) };
  canvas.box(marked.left, PLOT.top, marked.right, PLOT.bottom, SECTION);
  canvas.box(marked.left, PLOT.bottom + 1, marked.right, PLOT.bottom + 5, DANGER);
  for (const limitMm of [limits.hotendLimitMm, limits.smallestFeedableMm]) {
    if (limitMm < bottomMm || limitMm > topMm) continue;
    for (let dash = PLOT.left; dash < PLOT.right; dash += 12) {
      canvas.box(dash, y(limitMm) - 0.5, Math.min(dash + 6, PLOT.right), y(limitMm) + 0.5, DANGER);
    }
  }
  let before: readonly [number, number] | null = null;
  columns.forEach((column, index) => {
    if (column !== null) {
      const [low, high] = column;
      // Joined to the column before, so that a steep flank is drawn as a line.
      const from = before === null ? low : Math.min(low, before[1]);
      const to = before === null ? high : Math.max(high, before[0]);
      const beyond = high > limits.hotendLimitMm || low < limits.smallestFeedableMm;
      canvas.box(PLOT.left + index, y(to) - 1, PLOT.left + index, y(from) + 1, beyond ? DANGER : INK);
    }
    before = column;
  });
  canvas.box(PLOT.left - 2, PLOT.top, PLOT.left - 2, PLOT.bottom, AXIS);
  canvas.box(PLOT.left - 2, PLOT.bottom + 6, PLOT.right, PLOT.bottom + 6, AXIS);
  const worst = lowest < limits.smallestFeedableMm ? lowest : highest;
  label(
    canvas,
    [worst, limits.hotendLimitMm, limits.smallestFeedableMm, limits.nominalMm].filter((mm) => mm >= bottomMm),
    y,
  );
  const metres = (mm: number) => `${(mm / 1000).toFixed(2)} m`;
  write(canvas, metres(fromSpoolMm), PLOT.left, HEIGHT - 24, SCALE, INK);
  const end = metres(toSpoolMm);
  write(canvas, end, PLOT.right - textWidth(end, SCALE), HEIGHT - 24, SCALE, INK);
  return {
    png: encodePng(canvas, PALETTE),
    text: `Diameter from ${metres(fromSpoolMm)} to ${metres(toSpoolMm)} of spool ${trace.spoolOrdinal}: ${lowest.toFixed(2)} to ${highest.toFixed(2)} mm, nominal ${limits.nominalMm} mm, hotend limit ${limits.hotendLimitMm} mm.`,
  };
}

/** Smallest and largest diameter of each column of the plot; null = nothing was measured there. */
function columnsOf({ positionMm, diameterMm, fromSpoolMm, toSpoolMm }: Trace): (readonly [number, number] | null)[] {
  const count = PLOT.right - PLOT.left + 1;
  const columns = new Array<[number, number] | null>(count).fill(null);
  let last = -1;
  for (let i = 0; i < positionMm.length; i++) {
    const at = Math.round(((positionMm[i]! - fromSpoolMm) / (toSpoolMm - fromSpoolMm)) * (count - 1));
    const value = diameterMm[i]!;
    if (at < 0 || at >= count) continue;
    if (Number.isNaN(value)) {
      last = -1;
      continue;
    }
    const here = columns[at];
    columns[at] = here ? [Math.min(here[0], value), Math.max(here[1], value)] : [value, value];
    // Readings further apart than a column are joined by a straight line.
    const begin = columns[last];
    if (begin) {
      for (let k = last + 1; k < at; k++) {
        const between = begin[1] + ((value - begin[1]) * (k - last)) / (at - last);
        columns[k] = [between, between];
      }
    }
    last = at;
  }
  return columns;
}

/** Diameters at the left edge; one that would overlap another is left out. */
function label(canvas: Canvas, values: readonly number[], y: (mm: number) => number): void {
  const taken: number[] = [];
  for (const mm of values) {
    const top = Math.round(y(mm) - (GLYPH_HEIGHT * SCALE) / 2);
    if (taken.some((other) => Math.abs(other - top) < GLYPH_HEIGHT * SCALE + 4)) continue;
    taken.push(top);
    const text = mm.toFixed(2);
    const left = PLOT.left - 12 - textWidth(text, SCALE);
    write(canvas, text, left, Math.min(Math.max(top, 0), HEIGHT - GLYPH_HEIGHT * SCALE), SCALE, INK);
    canvas.box(PLOT.left - 7, y(mm) - 0.5, PLOT.left - 3, y(mm) + 0.5, AXIS);
  }
}
