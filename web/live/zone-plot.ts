import type uPlot from 'uplot';
import { CANVAS_FONT, type Colours } from '../chart/colours.ts';
import { plotLibrary } from '../chart/plot-library.ts';
import type { ExpectedTrace, ZoneTrace } from './zone-history.ts';

export interface ZoneScene {
  readonly colours: Colours;
  readonly range: readonly [number, number];
  readonly fromS: number;
  readonly toS: number;
  readonly setpointC: number | null;
  readonly withinK: number;
  readonly expected: ExpectedTrace;
}

/** A pause longer than this breaks the expected band, s. */
const PAUSE_S = 12;

/** A small trace of a zone: temperature as a line, set-point as steps, "at temperature" as a tint, the expected range as a band. */
export class ZonePlot {
  #plot: uPlot | null = null;
  #stopped = false;
  #scene: ZoneScene;
  #data: uPlot.AlignedData = [[], [], []];

  constructor(scene: ZoneScene) {
    this.#scene = scene;
  }

  async start(place: HTMLElement, size: () => { readonly width: number; readonly height: number }): Promise<void> {
    const Plot = await plotLibrary();
    if (this.#stopped) return;
    const scene = () => this.#scene;
    this.#plot = new Plot(
      {
        ...size(),
        padding: [6, 0, 6, 34],
        legend: { show: false },
        cursor: { show: false },
        scales: {
          x: { time: false, range: () => [scene().fromS, scene().toS] },
          y: { range: () => [scene().range[0], scene().range[1]] },
        },
        axes: [{ show: false }, { show: false }],
        series: [
          {},
          {
            stroke: () => scene().colours['ink-2'],
            width: 1,
            dash: [4, 3],
            points: { show: false },
            paths: Plot.paths.stepped!({ align: 1 }),
          },
          { stroke: () => scene().colours.ink, width: 1.75, points: { show: false } },
        ],
        hooks: { drawClear: [(u) => this.#paintGround(u)] },
      },
      this.#data,
      place,
    );
  }

  stop(): void {
    this.#stopped = true;
    this.#plot?.destroy();
    this.#plot = null;
  }

  update(trace: ZoneTrace, scene: ZoneScene): void {
    this.#scene = scene;
    this.#data = [trace.timeS, trace.setpointC, trace.temperatureC];
    this.#plot?.setData(this.#data, true);
  }

  resize(size: { readonly width: number; readonly height: number }): void {
    this.#plot?.setSize(size);
  }

  #paintGround(u: uPlot): void {
    const { colours, range, setpointC, withinK } = this.#scene;
    const { ctx, bbox } = u;
    const dpr = devicePixelRatio;
    const y = (c: number) => Math.min(bbox.top + bbox.height, Math.max(bbox.top, u.valToPos(c, 'y', true)));
    ctx.save();
    if (setpointC !== null && setpointC > 0) {
      const top = y(setpointC + withinK);
      ctx.fillStyle = colours.band;
      ctx.fillRect(bbox.left, top, bbox.width, y(setpointC - withinK) - top);
    }
    this.#paintExpected(u, y);
    ctx.strokeStyle = colours.rule;
    ctx.fillStyle = colours['ink-2'];
    ctx.font = `${11 * dpr}px ${CANVAS_FONT}`;
    ctx.textAlign = 'right';
    ctx.textBaseline = 'middle';
    ctx.lineWidth = dpr;
    const step = [5, 10, 20, 50, 100].find((s) => (range[1] - range[0]) / s <= 4.5) ?? 200;
    for (let c = Math.ceil(range[0] / step) * step; c <= range[1]; c += step) {
      const at = y(c);
      ctx.beginPath();
      ctx.moveTo(bbox.left, at);
      ctx.lineTo(bbox.left + bbox.width, at);
      ctx.stroke();
      if (at > bbox.top + 5 * dpr && at < bbox.top + bbox.height - 4 * dpr)
        ctx.fillText(String(c), bbox.left - 6 * dpr, at);
    }
    ctx.restore();
  }

  #paintExpected(u: uPlot, y: (c: number) => number): void {
    const { colours, expected, fromS } = this.#scene;
    const { timeS, lowC, highC } = expected;
    const { ctx } = u;
    ctx.fillStyle = colours.envelope;
    const x = (s: number) => u.valToPos(s, 'x', true);
    // One outline for each stretch: adjoining pieces would show seams.
    for (let from = 0; from < timeS.length; ) {
      let to = from + 1;
      while (to < timeS.length && timeS[to]! - timeS[to - 1]! <= PAUSE_S) to += 1;
      ctx.beginPath();
      for (let i = from; i < to; i += 1) ctx.lineTo(x(Math.max(fromS, timeS[i]!)), y(lowC[i]!));
      for (let i = to - 1; i >= from; i -= 1) ctx.lineTo(x(Math.max(fromS, timeS[i]!)), y(highC[i]!));
      ctx.fill();
      from = to;
    }
  }
}
