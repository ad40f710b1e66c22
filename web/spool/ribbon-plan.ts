import type { WindowView } from '../../server/api/contract/runs-and-spools.ts';

/** The layout of a spool as a page of text: rows of equal length, the first metre wound at the top left. */
export interface RibbonPlan {
  readonly rowMm: number;
  readonly rows: number;
  readonly lengthMm: number;
  /** Columns to request for a row. A request may have at most 4000, so it covers several rows. */
  readonly columnsPerRow: number;
  readonly rowsPerRequest: number;
}

const COLUMNS_MOST = 4000;
const ROW_LENGTHS_M = [0.5, 1, 2, 5, 10, 20, 50];

/** 10 m per row on a wide page, 5 m on a narrow one; less for a short spool, more for a very long one. */
export function ribbonPlan(lengthMm: number, widthPx: number, pixelRatio = 1): RibbonPlan {
  const usual = widthPx >= 640 ? 10 : 5;
  let at = ROW_LENGTHS_M.indexOf(usual);
  const rowsOf = (k: number) => Math.max(1, Math.ceil(lengthMm / 1000 / ROW_LENGTHS_M[k]! - 1e-9));
  while (at > 0 && rowsOf(at) < 6) at -= 1;
  while (at < ROW_LENGTHS_M.length - 1 && rowsOf(at) > 150) at += 1;
  const columnsPerRow = Math.min(COLUMNS_MOST, Math.max(100, Math.round(widthPx * Math.min(pixelRatio, 1.5))));
  return {
    rowMm: ROW_LENGTHS_M[at]! * 1000,
    rows: rowsOf(at),
    lengthMm,
    columnsPerRow,
    rowsPerRequest: Math.max(1, Math.floor(COLUMNS_MOST / columnsPerRow)),
  };
}

/** The part of the plan that requests depend on. It stays the same while a spool grows by further rows. */
export type RequestPlan = Pick<RibbonPlan, 'rowMm' | 'columnsPerRow' | 'rowsPerRequest'>;

/**
 * The stretch that one request covers, mm from the inner end, and its columns. The last one may reach beyond the spool, which
 * leaves room for rows to come.
 */
export function requestOf(
  plan: RequestPlan,
  group: number,
): { readonly fromMm: number; readonly toMm: number; readonly columns: number } {
  const first = group * plan.rowsPerRequest;
  const { rowMm, rowsPerRequest, columnsPerRow } = plan;
  return { fromMm: first * rowMm, toMm: (first + rowsPerRequest) * rowMm, columns: rowsPerRequest * columnsPerRow };
}

/** The columns of one row; null where nothing was measured. */
export interface RowColumns {
  readonly min: readonly (number | null)[];
  readonly max: readonly (number | null)[];
}

export function rowOf(plan: RequestPlan, window: WindowView, row: number): RowColumns {
  const d = window.signals.d;
  const start = (row % plan.rowsPerRequest) * plan.columnsPerRow;
  const end = start + plan.columnsPerRow;
  return { min: d?.min.slice(start, end) ?? [], max: d?.max.slice(start, end) ?? [] };
}

/** The part of a stretch in one row, as shares of the row's length. */
export interface Piece {
  readonly row: number;
  readonly left: number;
  readonly width: number;
  /** Whether this piece contains the start, or the end, of the stretch. */
  readonly first: boolean;
  readonly last: boolean;
}

export function pieces(plan: RibbonPlan, fromMm: number, toMm: number): Piece[] {
  const from = Math.max(0, Math.min(fromMm, plan.lengthMm));
  const to = Math.max(from, Math.min(toMm, plan.lengthMm));
  const out: Piece[] = [];
  const lastRow = Math.min(plan.rows - 1, Math.max(0, Math.ceil(to / plan.rowMm - 1e-9) - 1));
  for (let row = Math.min(Math.floor(from / plan.rowMm), plan.rows - 1); row <= lastRow; row += 1) {
    const left = Math.max(0, from - row * plan.rowMm) / plan.rowMm;
    const right = Math.min(plan.rowMm, to - row * plan.rowMm) / plan.rowMm;
    out.push({ row, left, width: Math.max(0, right - left), first: out.length === 0, last: row === lastRow });
  }
  return out;
}

/** The spool position at a point of a row, limited to the spool. */
export function positionMm(plan: RibbonPlan, row: number, share: number): number {
  const mm = (row + Math.min(1, Math.max(0, share))) * plan.rowMm;
  return Math.min(plan.lengthMm, Math.max(0, mm));
}

/** Where a key moves the cursor to, mm; null if the key moves nothing. */
export function movedBy(key: string, fine: boolean, atMm: number, plan: RibbonPlan): number | null {
  const step = fine ? 10 : 100;
  const to: Record<string, number> = {
    ArrowLeft: atMm - step,
    ArrowRight: atMm + step,
    ArrowUp: atMm - plan.rowMm,
    ArrowDown: atMm + plan.rowMm,
    PageUp: atMm - 5 * plan.rowMm,
    PageDown: atMm + 5 * plan.rowMm,
    Home: 0,
    End: plan.lengthMm,
  };
  const wanted = to[key];
  return wanted === undefined ? null : Math.min(plan.lengthMm, Math.max(0, wanted));
}
