import { useEffect, useMemo, useState } from 'preact/hooks';
import type { SpoolView, WindowView } from '../../server/api/contract/runs-and-spools.ts';
import { type DiameterLimits, diameterRange } from '../chart/diameter-scale.ts';
import { sectionTone } from '../format/names.ts';
import { metres } from '../format/numbers.ts';
import { MarkLegend } from '../judgement/mark-legend.tsx';
import { isAbort, logFailure } from '../service/request.ts';
import { requestSpoolWindow } from '../service/window.ts';
import { pieces } from '../spool/ribbon-plan.ts';
import type { PlacedSection } from '../spool/section-order.ts';

const ROWS_MAX = 8;
const ROW_LENGTHS_M = [1, 2, 5, 10, 20, 50, 100, 200, 500, 1000];
const COLUMNS_MAX = 4000;
/** Of the drawing; it is stretched to the width of the page. */
const HEIGHT = 30;
/** While the spool grows, its trace is fetched again after this much strand. */
const AGAIN_MM = 5000;

/** The whole spool in a few rows, for a look and for paper: its trace, and a mark for each stretch. */
export function RunRibbon(props: {
  readonly spool: SpoolView;
  readonly sections: readonly PlacedSection[];
  readonly limits: DiameterLimits;
}) {
  const { spool, sections, limits } = props;
  const lengthMm = Math.max(1, spool.woundMm);
  const rowM = ROW_LENGTHS_M.find((m) => lengthMm / 1000 / m <= ROWS_MAX) ?? ROW_LENGTHS_M.at(-1)!;
  const rows = Math.max(1, Math.ceil(lengthMm / 1000 / rowM - 1e-9));
  const columns = Math.floor(COLUMNS_MAX / rows);
  const plan = {
    rowMm: rowM * 1000,
    rows,
    lengthMm,
    columnsPerRow: columns,
    rowsPerRequest: rows,
  };
  const [window, setWindow] = useState<WindowView | null>(null);
  useEffect(() => {
    const controller = new AbortController();
    const question = { from: 0, to: rows * plan.rowMm, columns: rows * columns, signals: ['d'] };
    requestSpoolWindow(spool.runId, spool, question, controller.signal).then(setWindow, (thrown) => {
      if (!isAbort(thrown)) logFailure(thrown);
    });
    return () => controller.abort();
  }, [
    spool.id,
    spool.startGaugeMm,
    spool.lengthFactor,
    JSON.stringify(spool.cutOuts),
    rows,
    Math.floor(lengthMm / AGAIN_MM),
  ]);
  const paths = useMemo(
    () => Array.from({ length: rows }, (_, row) => envelope(window, row, columns, limits)),
    [window, rows, columns, limits.nominalMm, limits.hotendLimitMm, limits.smallestFeedableMm],
  );
  const [low, high] = diameterRange(limits, null);
  const nominalY = HEIGHT * (1 - (limits.nominalMm - low) / (high - low));
  const percent = (part: number) => `${(part * 100).toFixed(3)}%`;
  return (
    <figure class="run-ribbon" data-testid="run-ribbon">
      {paths.map((path, row) => {
        const share = Math.min(1, (lengthMm - row * plan.rowMm) / plan.rowMm);
        return (
          <div class="row" key={row}>
            <span class="row-start">{metres(row * plan.rowMm, 0)}</span>
            <div class="row-strand">
              {sections.flatMap((section) =>
                pieces(plan, section.fromSpoolMm, section.toSpoolMm)
                  .filter((piece) => piece.row === row)
                  .map((piece) => (
                    <span
                      key={section.id}
                      class={`mark ${section.kind === 'unknown' ? 'unknown' : section.verdict} ${sectionTone(section)}`}
                      style={{ left: percent(piece.left), width: percent(piece.width) }}
                    />
                  )),
              )}
              <svg viewBox={`0 0 ${columns} ${HEIGHT}`} preserveAspectRatio="none" aria-hidden="true">
                <line class="ribbon-nominal" x1={0} x2={columns * share} y1={nominalY} y2={nominalY} />
                <path class="ribbon-trace" d={path} />
              </svg>
              {share < 1 && <span class="outer-end" style={{ left: percent(share) }} />}
            </div>
          </div>
        );
      })}
      <figcaption class="fine">
        {metres(plan.rowMm, 0)}&nbsp;m a row, the first metre wound at the top left.
        <MarkLegend sections={sections} flags={false} />
      </figcaption>
    </figure>
  );
}

/** Smallest and largest diameter of each column, as a path from left to right. */
function envelope(window: WindowView | null, row: number, columns: number, limits: DiameterLimits): string {
  const d = window?.signals.d;
  if (!d) return '';
  const [low, high] = diameterRange(limits, null);
  const y = (mm: number) => Math.min(HEIGHT, Math.max(0, HEIGHT * (1 - (mm - low) / (high - low)))).toFixed(1);
  let path = '';
  let lastFilled = -9;
  for (let column = 0; column < columns; column++) {
    const at = row * columns + column;
    const [min, max] = [d.min[at], d.max[at]];
    if (min == null || max == null) continue;
    // One or two empty columns only mean a fast strand; more are a gap.
    path += `${column - lastFilled > 3 ? 'M' : 'L'}${column} ${y(max)}${min < max ? `V${y(min)}` : ''}`;
    lastFilled = column;
  }
  return path;
}
