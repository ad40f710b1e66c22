import { useEffect, useLayoutEffect, useRef } from 'preact/hooks';
import type { SeenLineView } from '../../server/api/contract/lines.ts';
import { type Colours, readColours } from '../chart/colours.ts';
import { diameter, metres } from '../format/numbers.ts';
import { coloursVersion } from '../shell/theme.ts';
import { outline } from '../strand-view/band-painter.ts';

/** The strand of one line from the gauge (left) to the winder, thickness drawn larger, in colour where it is beyond a limit. */
export function StrandStrip({ line, stale }: { line: SeenLineView; stale: boolean }) {
  const canvas = useRef<HTMLCanvasElement>(null);
  const painted = useRef('');
  const paint = () => {
    const place = canvas.current;
    if (!place) return;
    const [width, height, dpr] = [place.clientWidth, place.clientHeight, devicePixelRatio];
    // A line that stands still is drawn once.
    const key = JSON.stringify([line.trace, line.limits, width, height, dpr, coloursVersion.peek()]);
    if (key === painted.current || width === 0) return;
    painted.current = key;
    place.width = Math.round(width * dpr);
    place.height = Math.round(height * dpr);
    const ctx = place.getContext('2d');
    if (!ctx) return;
    ctx.setTransform(dpr, 0, 0, dpr, 0, 0);
    paintStrip(ctx, line, width, height, readColours());
  };
  const colours = coloursVersion.value;
  useLayoutEffect(paint, [line, colours]);
  const latest = useRef(paint);
  latest.current = paint;
  useEffect(() => {
    const watch = new ResizeObserver(() => latest.current());
    watch.observe(canvas.current!);
    return () => watch.disconnect();
  }, []);
  return <canvas ref={canvas} class={`strand-strip${stale ? ' stale' : ''}`} role="img" aria-label={stripText(line)} />;
}

function stripText({ trace, name }: SeenLineView): string {
  const [smallest, largest] = extremes(trace);
  if (smallest === null) return `No strand measured on ${name}.`;
  return `The last ${metres(trace.spanMm, 1)} m of ${name}: ${diameter(smallest)} to ${diameter(largest)} mm.`;
}

function extremes({ min, max }: SeenLineView['trace']): readonly [number | null, number | null] {
  const known = (values: readonly (number | null)[]) => values.filter((value) => value !== null);
  const [low, high] = [known(min), known(max)];
  return low.length === 0 ? [null, null] : [Math.min(...low), Math.max(...high)];
}

function paintStrip(
  ctx: CanvasRenderingContext2D,
  { trace, limits }: SeenLineView,
  width: number,
  height: number,
  colours: Colours,
): void {
  const mid = height / 2;
  ctx.strokeStyle = colours['rule-2'];
  ctx.setLineDash([2, 5]);
  ctx.beginPath();
  ctx.moveTo(0, mid);
  ctx.lineTo(width, mid);
  ctx.stroke();
  ctx.setLineDash([]);
  if (limits === null) return;
  const { spanMm } = trace;
  const columns = trace.max.length;
  const columnM = spanMm / columns / 1000;
  const strand = {
    x: trace.max.map((_, i) => (i + 0.5) * columnM),
    min: [...trace.min],
    max: [...trace.max],
    mean: trace.max.map((max, i) => (max === null ? null : (max + (trace.min[i] ?? max)) / 2)),
  };
  const body = new Path2D();
  for (const { x, half } of outline(strand, {
    limits,
    spanMm,
    frame: { left: 0, plotWidth: width, strandPx: height * 0.42 },
  })) {
    body.moveTo(x[0]!, mid - half[0]!);
    for (let i = 1; i < x.length; i += 1) body.lineTo(x[i]!, mid - half[i]!);
    for (let i = x.length - 1; i >= 0; i -= 1) body.lineTo(x[i]!, mid + half[i]!);
    body.closePath();
  }
  ctx.fillStyle = colours.strand;
  ctx.fill(body);
  ctx.save();
  ctx.clip(body);
  const columnPx = width / columns;
  for (let i = 0; i < columns; i += 1) {
    const [min, max] = [trace.min[i], trace.max[i]];
    if (min == null || max == null) continue;
    const beyondTolerance = max > limits.nominalMm + limits.toleranceMm || min < limits.nominalMm - limits.toleranceMm;
    if (!beyondTolerance) continue;
    const bad = max > limits.hotendLimitMm || min < limits.smallestFeedableMm;
    ctx.fillStyle = bad ? colours.danger : colours.abnormal;
    ctx.fillRect(i * columnPx - 0.5, 0, columnPx + 1, height);
  }
  ctx.restore();
  ctx.fillStyle = colours.ink;
  ctx.fillRect(0, height * 0.12, 2, height * 0.76);
}
