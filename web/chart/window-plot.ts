import type uPlot from 'uplot';
import type { SectionView } from '../../server/api/contract/runs-and-spools.ts';
import { sectionTone } from '../format/names.ts';
import { CANVAS_FONT, type Colours } from './colours.ts';
import { type DiameterLimits, diameterRange } from './diameter-scale.ts';
import { paintBeyond, paintLimits, paintOffScale } from './limit-painter.ts';
import { pattern } from './patterns.ts';
import type { Quantity } from './quantity.ts';
import { roundTicks } from './ticks.ts';
import type { Range } from './view-range.ts';
import { type Column, type DrawnWindow, extremes } from './window-columns.ts';

/** A stretch to mark on the chart, in units of the x axis. */
export interface PlotMark {
  readonly from: number;
  readonly to: number;
  readonly kind: SectionView['kind'];
  readonly verdict: SectionView['verdict'];
}

export interface PlotScene {
  readonly colours: Colours;
  readonly view: Range;
  readonly splits: readonly number[];
  readonly label: (x: number) => string;
  readonly axisText: string;
  /** For a diameter: the limits to draw, which also set the range. */
  readonly limits: DiameterLimits | null;
  readonly quantity: Quantity;
  /** Room on the left for the names of limits, in this chart or one above it. */
  readonly namedLimits: boolean;
  readonly marks: readonly PlotMark[];
}

/** A chart of one window: the first signal as envelope and mean, a second (a set-point) as a dashed step. */
export class WindowPlot {
  #plot: uPlot | null = null;
  #scene!: PlotScene;
  #data: DrawnWindow = { x: [], gaugeMm: [], signals: [] };
  readonly #setPoint: boolean;
  onSelect: (view: Range) => void = () => {};
  onCursor: (index: number | null) => void = () => {};

  constructor(setPoint: boolean) {
    this.#setPoint = setPoint;
  }

  get area(): HTMLElement | null {
    return this.#plot?.over ?? null;
  }

  start(Plot: typeof uPlot, place: HTMLElement, first: PlotScene, width: number, height: number): void {
    this.#scene = first;
    const scene = () => this.#scene;
    const narrow = width < 560;
    const left = first.namedLimits ? (narrow ? 56 : 148) : 46;
    const edge: uPlot.Series = { stroke: () => scene().colours['ink-2'], width: 0.75, points: { show: false } };
    const series: uPlot.Series[] = [
      {},
      edge,
      edge,
      { stroke: () => scene().colours.ink, width: 1.4, points: { show: false } },
    ];
    if (this.#setPoint) {
      series.push({
        stroke: () => scene().colours['ink-2'],
        width: 1,
        dash: [5, 4],
        points: { show: false },
        paths: Plot.paths.stepped!({ align: 1 }),
      });
    }
    this.#plot = new Plot(
      {
        width,
        height,
        padding: [8, 12, 30, left],
        legend: { show: false },
        cursor: { y: false, points: { show: false }, drag: { x: true, y: false, setScale: false } },
        scales: {
          x: { time: false, range: () => [scene().view[0], scene().view[1]] },
          y: { range: () => this.#range() },
        },
        axes: [{ show: false }, { show: false }],
        series,
        bands: [{ series: [1, 2], fill: () => scene().colours.envelope }],
        hooks: {
          drawClear: [(u) => this.#paintGround(u, narrow, left)],
          draw: [
            (u) => {
              const { limits, colours } = scene();
              if (!limits) return;
              paintBeyond(u, 1, 2, limits, colours);
              paintOffScale(u, 1, colours, narrow ? 11.5 : 12.5);
            },
          ],
          setSelect: [
            (u) => {
              const { left: from, width: wide } = u.select;
              if (wide > 5) this.onSelect([u.posToVal(from, 'x'), u.posToVal(from + wide, 'x')]);
              if (wide > 0) u.setSelect({ left: 0, top: 0, width: 0, height: 0 }, false);
            },
          ],
          setCursor: [(u) => this.onCursor(u.cursor.idx ?? null)],
        },
      },
      this.#columns(),
      place,
    );
  }

  stop(): void {
    this.#plot?.destroy();
    this.#plot = null;
  }

  setData(data: DrawnWindow): void {
    this.#data = data;
    this.#plot?.setData(this.#columns(), true);
  }

  setScene(scene: PlotScene): void {
    this.#scene = scene;
    this.#plot?.setScale('x', { min: scene.view[0], max: scene.view[1] });
    this.#plot?.redraw(false);
  }

  resize(width: number, height: number): void {
    this.#plot?.setSize({ width, height });
  }

  /** Puts the cursor on a value of x, as a pointer would. */
  pointAt(x: number): void {
    const plot = this.#plot;
    if (plot) plot.setCursor({ left: plot.valToPos(x, 'x'), top: plot.over.clientHeight / 2 });
  }

  #columns(): uPlot.AlignedData {
    const first = this.#data.signals[0] ?? { min: [], max: [], mean: [] };
    const columns = [this.#data.x, first.max, first.min, first.mean];
    if (this.#setPoint) columns.push(this.#data.signals[1]?.mean as number[]);
    return columns as uPlot.AlignedData;
  }

  #range(): [number, number] {
    const [first, setPoint] = this.#data.signals;
    // Readings are fetched for more than is shown; the scale fits what is shown.
    const shown = (column: Column) => column.filter((_, i) => this.#isShown(this.#data.x[i]!));
    const seen = first
      ? extremes([shown(first.min), shown(first.max), ...(setPoint ? [shown(setPoint.mean)] : [])])
      : null;
    if (this.#scene.limits) return diameterRange(this.#scene.limits, seen?.[1] ?? null, seen?.[0] ?? null);
    const { range } = this.#scene.quantity;
    if ('fixed' in range) return [...range.fixed];
    if (!seen) return [0, 1];
    const span = seen[1] - seen[0];
    const margin = Math.max((range.atLeast - span) / 2, span * 0.1);
    return [seen[0] - margin, seen[1] + margin];
  }

  #isShown(x: number): boolean {
    const [from, to] = this.#scene.view;
    return x >= from && x <= to;
  }

  #paintGround(u: uPlot, narrow: boolean, left: number): void {
    const { colours, limits, marks, splits, label, axisText } = this.#scene;
    const { ctx, bbox } = u;
    const dpr = devicePixelRatio;
    const fontPx = narrow ? 11.5 : 12.5;
    const bottom = bbox.top + bbox.height;
    const x = (value: number) => u.valToPos(value, 'x', true);
    ctx.save();
    ctx.beginPath();
    ctx.rect(bbox.left, bbox.top - 8 * dpr, bbox.width, bbox.height + 8 * dpr);
    ctx.clip();
    for (const mark of marks) {
      if (mark.verdict === 'good') continue;
      const from = x(mark.from);
      const wide = Math.max(2 * dpr, x(mark.to) - from);
      const discard = mark.verdict === 'discard';
      const tone = sectionTone(mark) === 'danger' ? 'danger' : 'abnormal';
      ctx.fillStyle = colours[`${tone}-soft`];
      ctx.fillRect(from, bbox.top, wide, bbox.height);
      ctx.fillStyle = pattern(discard ? 'hatch' : 'dots', colours[`${tone}-ink`], dpr);
      ctx.fillRect(from, bbox.top - 8 * dpr, Math.max(4 * dpr, wide), 8 * dpr);
    }
    ctx.restore();
    if (limits) paintLimits(u, limits, colours, fontPx, left > 90);
    ctx.save();
    ctx.font = `${fontPx * dpr}px ${CANVAS_FONT}`;
    ctx.lineWidth = dpr;
    ctx.fillStyle = colours['ink-2'];
    ctx.strokeStyle = colours.rule;
    if (!limits) {
      const [low, high] = [u.scales.y!.min ?? 0, u.scales.y!.max ?? 1];
      ctx.textAlign = 'right';
      ctx.textBaseline = 'middle';
      for (const v of roundTicks(low, high, Math.max(2, Math.min(4, bbox.height / dpr / 24)))) {
        const at = u.valToPos(v, 'y', true);
        ctx.beginPath();
        ctx.moveTo(bbox.left, at);
        ctx.lineTo(bbox.left + bbox.width, at);
        ctx.stroke();
        ctx.fillText(this.#scene.quantity.tick(v), bbox.left - 8 * dpr, at);
      }
    }
    ctx.textBaseline = 'top';
    ctx.textAlign = 'center';
    ctx.strokeStyle = colours['ink-3'];
    for (const split of splits) {
      const at = x(split);
      ctx.beginPath();
      ctx.moveTo(at, bottom);
      ctx.lineTo(at, bottom + 5 * dpr);
      ctx.stroke();
      // A label that is cut off or covers the unit could not be read.
      if (at > bbox.left + 14 * dpr && at < bbox.left + bbox.width - 12 * dpr)
        ctx.fillText(label(split), at, bottom + 8 * dpr);
    }
    ctx.textAlign = 'right';
    ctx.fillText(axisText, bbox.left - 10 * dpr, bottom + 8 * dpr);
    ctx.restore();
  }
}
