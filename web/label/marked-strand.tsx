import { useEffect, useState } from 'preact/hooks';
import type { WindowView } from '../../server/api/contract/runs-and-spools.ts';
import type { StockDetail } from '../../server/api/contract/stock.ts';
import { KIND_TEXT, SHORT_DOUBT } from '../../server/strand/section-names.ts';
import { tracePath } from '../chart/trace-path.ts';
import { diameter, length, metres, metresWithError } from '../format/numbers.ts';
import { isAbort } from '../service/request.ts';
import { requestWindow } from '../service/window.ts';

type Mark = StockDetail['prints'][number]['marks'][number];

const COLUMNS = 400;
/** Height of the drawing, in its own units. */
const HIGH = 100;

/** The strand where a print jammed or shows a flaw, with the uncertainty of the place, and what was judged there. */
interface Props {
  readonly runId: number;
  readonly mark: Mark;
  readonly item: StockDetail['item'];
}

export function MarkedStrand({ runId, mark, item }: Props) {
  const [strand, setStrand] = useState<WindowView | null>(null);
  const { kind, fromFeedMm, uncertaintyMm, gaugeMm, gaugeUncertaintyMm, judged } = mark;
  const halfMm = Math.max(500, 2 * gaugeUncertaintyMm);
  const from = (gaugeMm ?? 0) - halfMm;
  const to = (gaugeMm ?? 0) + halfMm;
  useEffect(() => {
    if (gaugeMm === null) return;
    const controller = new AbortController();
    requestWindow(runId, { axis: 'length', from, to, columns: COLUMNS, signals: ['d'] }, controller.signal).then(
      setStrand,
      (thrown) => {
        // The words below say the same; single readings may have been deleted.
        if (!isAbort(thrown)) setStrand(null);
      },
    );
    return () => controller.abort();
  }, [runId, from, to]);
  const what = kind === 'jammed' ? 'Jammed' : 'Flawed';
  if (fromFeedMm === null || gaugeMm === null)
    return <p data-testid="print-mark">{what}, but it was not noted how far the print was.</p>;
  const sure = COLUMNS * (gaugeUncertaintyMm / (2 * halfMm));
  const means = strand?.signals.d?.mean.filter((mm) => mm !== null) ?? [];
  const extremes = [...means, ...(strand?.signals.d?.max ?? []), ...(strand?.signals.d?.min ?? [])].filter(
    (mm) => mm !== null,
  );
  const [low, high] = extremes.length === 0 ? [1.7, 1.8] : [Math.min(...extremes) - 0.01, Math.max(...extremes) + 0.01];
  const fromMm = Math.max(0, fromFeedMm - uncertaintyMm);
  const toMm = Math.min(item.lengthMm, fromFeedMm + uncertaintyMm);
  return (
    <figure class="marked-strand" data-testid="print-mark">
      <figcaption>
        <b>
          {what} {metresWithError(fromFeedMm, uncertaintyMm)} from the end that feeds.
        </b>{' '}
        {judged.length === 0
          ? `Nothing was marked between ${metres(fromMm, 1)} and ${metres(toMm, 1)} m: the strand there was called good.`
          : `Marked there: ${judged.map(placeText).join('; ')}.`}
      </figcaption>
      <svg
        class={item.kind === 'coil' ? 'labelled-trace' : 'labelled-trace fed-from-the-right'}
        viewBox={`0 0 ${COLUMNS} ${HIGH}`}
        preserveAspectRatio="none"
        role="img"
        aria-label={`Diameter around that place, ${diameter(low)} to ${diameter(high)} mm; the band is where it may have been`}
      >
        <rect class="band" x={COLUMNS / 2 - sure} width={2 * sure} y={0} height={HIGH} />
        {strand && <path class="trace" d={tracePath(strand, (mm) => HIGH * (1 - (mm - low) / (high - low)))} />}
        <line class="marked-place" x1={COLUMNS / 2} x2={COLUMNS / 2} y1={0} y2={HIGH} />
      </svg>
    </figure>
  );
}

function placeText({ kind, peakMm, doubt, fromFeedMm, toFeedMm }: Mark['judged'][number]): string {
  const what = `${KIND_TEXT[kind].toLowerCase()}${peakMm === null ? '' : ` of ${diameter(peakMm)} mm`}`;
  return `${what} at ${metres(fromFeedMm)} to ${length(toFeedMm)}${doubt === null ? '' : `, in doubt: ${SHORT_DOUBT[doubt]}`}`;
}
