import type uPlot from 'uplot';
import type { StrandTrace } from '../../server/strand/strand-bins.ts';
import { CANVAS_FONT } from '../chart/colours.ts';
import { diameterRange, smallestDrawnMm } from '../chart/diameter-scale.ts';
import { paintBeyond, paintLimits, paintOffScale } from '../chart/limit-painter.ts';
import { plotLibrary } from '../chart/plot-library.ts';
import { roundTicks } from '../chart/ticks.ts';
import type { PictureScene } from './picture-frame.ts';

/** The diameter along the strand, on the same axis as the strand drawing. */
export class TracePlot {
  #plot: uPlot | null = null;
  #stopped = false;
  #scene: PictureScene;
  #largest: number | null = null;
  #smallest: number | null = null;
  readonly #x: number[] = [];
  readonly #d: (number | null)[] = [];

  constructor(scene: PictureScene) {
    this.#scene = scene;
  }

  async start(container: HTMLElement): Promise<void> {
    const Plot = await plotLibrary();
    if (this.#stopped) return;
    const { frame } = this.#scene;
    const line = (colour: () => string, width: number): uPlot.Series => ({
      stroke: colour,
      width,
      points: { show: false },
    });
    const ink = () => this.#scene.colours.ink;
    this.#plot = new Plot(
      {
        width: frame.width,
        height: frame.traceHeight,
        padding: [Math.max(10, frame.fontPx / 2), frame.right, Math.max(34, frame.fontPx * 1.4), frame.left],
        legend: { show: false },
        cursor: { show: false },
        scales: {
          x: { time: false, range: () => [0, this.#scene.spanMm / 1000] },
          y: { range: () => diameterRange(this.#scene.limits, this.#largest, this.#smallest) },
        },
        axes: [{ show: false }, { show: false }],
        series: [{}, line(ink, 1.5)],
        hooks: {
          drawClear: [(u) => paintLimits(u, this.#scene.limits, this.#scene.colours, frame.fontPx, !frame.brief)],
          draw: [
            (u) => {
              paintBeyond(u, 1, 1, this.#scene.limits, this.#scene.colours);
              paintOffScale(u, 1, this.#scene.colours, frame.fontPx);
              this.#paintMetres(u);
            },
          ],
        },
      },
      [this.#x, this.#d] as uPlot.AlignedData,
      container,
    );
  }

  stop(): void {
    this.#stopped = true;
    this.#plot?.destroy();
    this.#plot = null;
  }

  update(trace: StrandTrace, scene: PictureScene): void {
    this.#scene = scene;
    // A lost strand is not a diameter and must not set the scale.
    const leastMm = Math.max(scene.limits.strandPresentMm, smallestDrawnMm(scene.limits));
    let largest: number | null = null;
    let smallest: number | null = null;
    this.#x.length = this.#d.length = 0;
    // One line through both extremes of each bin: the true peaks in a single stroke, because each stroke costs time.
    for (let i = 0; i < trace.x.length; i += 1) {
      const min = trace.min[i] ?? null;
      const max = trace.max[i] ?? null;
      this.#x.push(trace.x[i]!);
      this.#d.push(max);
      if (max !== null && (largest === null || max > largest)) largest = max;
      if (min !== null && min >= leastMm && (smallest === null || min < smallest)) smallest = min;
      if (min === max) continue;
      this.#x.push(trace.x[i]!);
      this.#d.push(min);
    }
    this.#largest = largest;
    this.#smallest = smallest;
    this.#plot?.setData([this.#x, this.#d] as uPlot.AlignedData, true);
  }

  #paintMetres(u: uPlot): void {
    const { frame, colours, spanMm, limits } = this.#scene;
    const { ctx, bbox } = u;
    const dpr = devicePixelRatio;
    const bottom = bbox.top + bbox.height;
    const y = bottom + 6 * dpr;
    ctx.save();
    ctx.strokeStyle = colours['ink-3'];
    ctx.fillStyle = colours['ink-2'];
    ctx.lineWidth = dpr;
    ctx.textBaseline = 'top';
    ctx.textAlign = 'center';
    ctx.font = `${frame.fontPx * dpr}px ${CANVAS_FONT}`;
    const ticks = roundTicks(0, spanMm / 1000, Math.max(4, Math.round(frame.plotWidth / (frame.fontPx * 9.5))));
    const digits = ticks.every(Number.isInteger) ? 0 : 1;
    for (const tick of ticks) {
      const x = u.valToPos(tick, 'x', true);
      ctx.beginPath();
      ctx.moveTo(x, bottom);
      ctx.lineTo(x, bottom + 5 * dpr);
      ctx.stroke();
      ctx.fillText(tick === 0 ? '0' : tick.toFixed(digits), x, y + 2 * dpr);
    }
    ctx.textAlign = 'right';
    const right = bbox.left - Math.max(12, frame.fontPx * 0.8) * dpr;
    ctx.fillText(frame.brief ? 'm' : 'm from the gauge', right, y + 2 * dpr, right);
    if (spanMm > limits.gaugeToWinderMm * 1.1) {
      const x = u.valToPos(limits.gaugeToWinderMm / 1000, 'x', true);
      ctx.setLineDash([4 * dpr, 4 * dpr]);
      ctx.strokeStyle = colours.ink;
      ctx.beginPath();
      ctx.moveTo(x, bbox.top);
      ctx.lineTo(x, bottom);
      ctx.stroke();
    }
    ctx.restore();
  }
}
