import { type Signal, useSignalEffect } from '@preact/signals';
import { useEffect, useMemo, useRef, useState } from 'preact/hooks';
import type uPlot from 'uplot';
import type { StrandOnWinder } from '../../server/strand/position.ts';
import { metres } from '../format/numbers.ts';
import { clock, clockWithSeconds } from '../format/times.ts';
import { refetchVersion } from '../service/live-store.ts';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { requestSpoolWindow, requestWindow, type WindowQuestion } from '../service/window.ts';
import { ProblemNote } from '../shell/problem-note.tsx';
import { coloursVersion } from '../shell/theme.ts';
import { ChartTable } from './chart-table.tsx';
import { readColours } from './colours.ts';
import type { DiameterLimits } from './diameter-scale.ts';
import { startGestures } from './gestures.ts';
import { plotLibrary } from './plot-library.ts';
import { QUANTITIES } from './quantity.ts';
import { roundTicks } from './ticks.ts';
import { timeSplits } from './time-splits.ts';
import { useNear } from './use-near.ts';
import { askRange, pan, type Range, within, zoom } from './view-range.ts';
import { type DrawnWindow, drawnWindow } from './window-columns.ts';
import { WindowFetcher } from './window-fetcher.ts';
import { type PlotMark, type PlotScene, WindowPlot } from './window-plot.ts';

export interface WindowChartProps {
  readonly runId: number;
  readonly axis: 'time' | 'length';
  /** UTC ms, or mm: positions on `strand`, else gauge lengths. */
  readonly whole: Range;
  /** Shared between charts that zoom together. */
  readonly view: Signal<Range>;
  /** The signal to draw, and that of its set-point. */
  readonly signal: string;
  readonly setPoint?: string;
  readonly quantity: keyof typeof QUANTITIES;
  readonly limits?: DiameterLimits;
  /** The spool that a length axis shows. */
  readonly strand?: StrandOnWinder;
  readonly timeZone?: string;
  /** On a time axis: the place on the strand of a gauge length, written after the time. */
  readonly placeText?: (gaugeMm: number) => string;
  readonly marks?: readonly PlotMark[];
  /** Its time axis lines up with that of a chart with limits above it. */
  readonly belowDiameter?: boolean;
  readonly height: number;
  readonly title: string;
  /** Without buttons and table: one of several that zoom together, or a small chart next to text. */
  readonly bare?: boolean;
}

/** An A4 sheet without its margins, in CSS pixels. */
const PAPER_PX = 670;
/** Charts are lower on paper, so that a report fits on two sheets. */
const PAPER_SHARE = 0.7;

const HINT = matchMedia('(pointer: coarse)').matches
  ? 'Pinch to look closer, drag to move.'
  : 'Drag over the chart to look closer, or press + and −; arrow keys read, with Shift they move.';

/** A chart of a stored window. It zooms by drag, pinch, touchpad and keys, and requests the data for each zoom. */
export function WindowChart(props: WindowChartProps) {
  const { runId, axis, whole, view, signal, setPoint, height, title } = props;
  const place = useRef<HTMLDivElement>(null);
  const [drawn, setDrawn] = useState<DrawnWindow>({ x: [], gaugeMm: [], signals: [] });
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const [cursor, setCursor] = useState<number | null>(null);
  const near = useNear(place);
  const least = axis === 'time' ? 2000 : 50;

  const scene = (widthPx = place.current?.clientWidth ?? 600): PlotScene => {
    const [from, to] = view.peek();
    const most = Math.max(2, Math.floor(widthPx / 110));
    const span = to - from;
    return {
      colours: readColours(),
      view: [from, to],
      splits:
        axis === 'time'
          ? timeSplits(from, to, most, props.timeZone)
          : roundTicks(from / 1000, to / 1000, most).map((m) => m * 1000),
      label: (x) =>
        axis === 'time'
          ? (span < 300_000 ? clockWithSeconds : clock)(x, props.timeZone)
          : (x / 1000).toFixed(span < 3000 ? 2 : span < 30_000 ? 1 : 0),
      axisText: axis === 'time' ? '' : 'm',
      limits: props.limits ?? null,
      quantity: QUANTITIES[props.quantity],
      namedLimits: props.belowDiameter === true || props.limits !== undefined,
      marks: props.marks ?? [],
    };
  };
  const sceneNow = useRef(scene);
  sceneNow.current = scene;
  const plot = useMemo(() => new WindowPlot(setPoint !== undefined), []);
  const change = (next: Range) => {
    view.value = within(next, whole, least);
  };
  const changeNow = useRef(change);
  changeNow.current = change;

  const start = (Plot: typeof uPlot) => {
    const node = place.current!;
    const width = () => Math.max(200, Math.floor(node.clientWidth));
    plot.start(Plot, node, sceneNow.current(), width(), height);
    plot.onSelect = (range) => changeNow.current(range);
    plot.onCursor = setCursor;
    const watch = new ResizeObserver(() => plot.resize(width(), height));
    watch.observe(node);
    // A chart has a fixed number of pixels, and paper another width than the screen.
    const drawFor = (widthPx: number, heightPx: number) => {
      node.style.height = `${heightPx}px`;
      plot.setScene(sceneNow.current(widthPx));
      plot.resize(widthPx, heightPx);
    };
    const toPaper = () =>
      drawFor(props.bare && axis === 'length' ? PAPER_PX / 2 - 12 : PAPER_PX, Math.round(height * PAPER_SHARE));
    const toScreen = () => drawFor(width(), height);
    addEventListener('beforeprint', toPaper);
    addEventListener('afterprint', toScreen);
    const stopGestures = startGestures({
      area: plot.area!,
      view: () => view.peek(),
      change: (next) => changeNow.current(next),
    });
    return () => {
      removeEventListener('beforeprint', toPaper);
      removeEventListener('afterprint', toScreen);
      watch.disconnect();
      stopGestures();
      plot.stop();
    };
  };

  useEffect(() => {
    if (!near.value) return;
    let stop: (() => void) | null = () => {};
    void plotLibrary().then((Plot) => {
      if (stop !== null) stop = start(Plot);
    });
    return () => {
      stop?.();
      stop = null;
    };
  }, [plot, height, view, near.value]);

  // The old drawing stays until the answer arrives.
  const asker = useMemo(
    () =>
      new WindowFetcher(
        async ({ signals, ...question }: WindowQuestion, signal) =>
          drawnWindow(
            props.strand === undefined
              ? await requestWindow(runId, { ...question, signals }, signal)
              : await requestSpoolWindow(runId, props.strand, { ...question, signals }, signal),
            signals,
          ),
        (next) => {
          setProblem(null);
          setDrawn(next);
          plot.setData(next);
        },
        (thrown) => setProblem(asProblem(thrown)),
      ),
    [plot, runId],
  );
  const question = (): WindowQuestion => {
    const now = view.peek();
    const [from, to] = askRange(now, whole);
    const width = Math.max(200, place.current?.clientWidth ?? 600);
    const columns = Math.min(4000, Math.max(50, Math.round((width * (to - from)) / (now[1] - now[0]))));
    return { axis, from, to, columns, signals: setPoint === undefined ? [signal] : [signal, setPoint] };
  };
  const questionNow = useRef(question);
  questionNow.current = question;
  useSignalEffect(() => {
    view.value;
    refetchVersion.value;
    if (!near.value) return;
    plot.setScene(sceneNow.current());
    asker.want(() => questionNow.current());
  });
  useSignalEffect(() => {
    coloursVersion.value;
    if (near.value) plot.setScene(sceneNow.current());
  });
  useEffect(() => {
    if (near.peek()) plot.setScene(sceneNow.current());
  }, [plot, props.marks, props.limits]);
  useEffect(() => () => asker.stop(), [asker]);

  const value = (v: number | null | undefined) => QUANTITIES[props.quantity].text(v ?? null);
  const where = (x: number) => (axis === 'time' ? clockWithSeconds(x, props.timeZone) : `${metres(x)} m`);
  const first = drawn.signals[0];
  /** On a time axis also the place on the strand. */
  const second = (index: number) => {
    const gaugeMm = drawn.gaugeMm[index];
    return axis === 'time' && props.placeText && gaugeMm != null ? props.placeText(gaugeMm) : '';
  };
  const cursorText =
    cursor !== null && first && drawn.x[cursor] !== undefined
      ? `${where(drawn.x[cursor]!)}${second(cursor)}: ${first.min[cursor] === first.max[cursor] ? value(first.mean[cursor]) : `${value(first.min[cursor])} to ${value(first.max[cursor])}`}`
      : '';

  const key = (event: KeyboardEvent) => {
    const now = view.peek();
    const span = now[1] - now[0];
    const at = (cursor === null ? undefined : drawn.x[cursor]) ?? (now[0] + now[1]) / 2;
    if (event.key === '+' || event.key === '=') change(zoom(now, at, 0.5));
    else if (event.key === '-') change(zoom(now, at, 2));
    else if (event.key === '0' || event.key === 'Home') change(whole);
    else if (event.key === 'PageDown') change(pan(now, span / 2));
    else if (event.key === 'PageUp') change(pan(now, -span / 2));
    else if (event.key === 'ArrowRight' && event.shiftKey) change(pan(now, span / 10));
    else if (event.key === 'ArrowLeft' && event.shiftKey) change(pan(now, -span / 10));
    else if (event.key === 'ArrowRight') plot.pointAt(Math.min(now[1], at + span / 60));
    else if (event.key === 'ArrowLeft') plot.pointAt(Math.max(now[0], at - span / 60));
    else return;
    event.preventDefault();
  };

  const zoomed = view.value[1] - view.value[0] < (whole[1] - whole[0]) * 0.999;
  return (
    <div>
      {/* biome-ignore lint/a11y/useSemanticElements: a fieldset would be no plotting area */}
      <div
        ref={place}
        class="plot-place"
        style={{ height: `${height}px` }}
        role="group"
        // biome-ignore lint/a11y/noNoninteractiveTabindex: the chart answers keys
        tabIndex={0}
        aria-label={`${title}. Plus and minus zoom, arrow keys read values, with Shift they move, 0 shows the whole.`}
        onKeyDown={key}
        onDblClick={() => change(whole)}
      />
      {problem && <ProblemNote problem={problem} />}
      <p class="reading" aria-live="polite">
        {cursorText || (props.bare ? '' : HINT)}
      </p>
      {!props.bare && (
        <div class="chart-tools">
          <button type="button" class="plain" onClick={() => change(zoom(view.peek(), mid(view.peek()), 0.5))}>
            Closer
          </button>
          <button
            type="button"
            class="plain"
            disabled={!zoomed}
            onClick={() => change(zoom(view.peek(), mid(view.peek()), 2))}
          >
            Wider
          </button>
          <button type="button" class="plain" disabled={!zoomed} onClick={() => change(whole)}>
            Whole
          </button>
          <ChartTable
            caption={title}
            columns={[axis === 'time' ? 'Time' : 'Metre', 'Smallest', 'Mean', 'Largest']}
            rows={() =>
              tableRows(drawn, view.peek(), 30).map((row) => [
                where(row.x),
                value(row.min),
                value(row.mean),
                value(row.max),
              ])
            }
          />
        </div>
      )}
    </div>
  );
}

function mid([from, to]: Range): number {
  return (from + to) / 2;
}

/** The data in a view, gathered into at most `most` rows. */
function tableRows(drawn: DrawnWindow, [from, to]: Range, most: number) {
  const first = drawn.signals[0];
  const rows: { x: number; min: number; mean: number; max: number; n: number; k: number }[] = [];
  if (!first) return rows;
  drawn.x.forEach((x, i) => {
    const [min, max, mean] = [first.min[i], first.max[i], first.mean[i]];
    if (x < from || x > to || min == null || max == null || mean == null) return;
    const k = Math.min(most - 1, Math.floor(((x - from) / (to - from)) * most));
    const last = rows.at(-1);
    if (last?.k === k) {
      last.min = Math.min(last.min, min);
      last.max = Math.max(last.max, max);
      last.mean = (last.mean * last.n + mean) / (last.n + 1);
      last.n += 1;
    } else rows.push({ x, min, max, mean, n: 1, k });
  });
  return rows;
}
