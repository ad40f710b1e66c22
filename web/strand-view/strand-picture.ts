import type { ReadingsFrame } from '../../server/api/contract/live.ts';
import type { LiveState } from '../../server/api/contract/live-state.ts';
import { emptyTrace, StrandBins } from '../../server/strand/strand-bins.ts';
import { type Colours, readColours } from '../chart/colours.ts';
import { logFailure } from '../service/request.ts';
import { requestWindow } from '../service/window.ts';
import { paintBand } from './band-painter.ts';
import { strandOf } from './callouts.ts';
import { MovingHead } from './moving-head.ts';
import { type PictureFrame, type PictureScene, pictureFrame } from './picture-frame.ts';
import { type SpanChoice, spanMm } from './spans.ts';
import { TracePlot } from './trace-plot.ts';

/** Bins beyond those of the picture, for readings that arrive while it is drawn. */
const SPARE_BINS = 8;

/** More than the frames that arrive while a window is fetched. */
const SINCE_FRAMES = 300;

/** A picture that delays the next screen frame by more than this is drawn less often. */
const SLOW_MS = 24;

export interface PictureView {
  readonly frame: PictureFrame;
  readonly headMm: number;
  readonly spanMm: number;
}

/**
 * The live picture of the strand: readings in, one picture a screen frame out.
 *
 *   frames ──► bins ──► trace ──► band (canvas) and plot (uPlot)
 *   window ──►  ▲                 on one metre axis, from the gauge to the winder and on
 *   frames ──► head ──────────►   (where the newest strand is on screen)
 */
export class StrandPicture {
  #bins = new StrandBins(1, 1);
  readonly #head = new MovingHead();
  readonly #trace = emptyTrace();
  #plot: TracePlot | null = null;
  #frame: PictureFrame = pictureFrame(600, 400, null);
  #colours: Colours | null = null;
  #state: LiveState | null = null;
  #choice: SpanChoice = 'path';
  #spanMm = 0;
  #runId: number | null = null;
  #stale = false;
  #dirty = true;
  #drawnHead = Number.NaN;
  #handle = 0;
  #slow: ReturnType<typeof setInterval> | undefined;
  #controller = new AbortController();
  #filledToMm = 0;
  /** Frames since the bins were filled from bins of another width, which are replaced when the window arrives. */
  #since: ReadingsFrame[] | null = null;
  #place: { readonly band: HTMLCanvasElement; readonly plot: HTMLElement } | null = null;
  /** Called after every picture, for the elements above it. */
  onDrawn: (view: PictureView) => void = () => {};

  start(band: HTMLCanvasElement, plot: HTMLElement, frame: PictureFrame): void {
    this.#place = { band, plot };
    this.#frame = frame;
    this.recolour();
    if (matchMedia('(prefers-reduced-motion: reduce)').matches) {
      this.#slow = setInterval(() => this.#draw(performance.now()), 1000);
    } else {
      // A slow device gets fewer pictures, so that its buttons still respond. The cost of a picture shows in
      // how late the next screen frame comes.
      let drawnAt = 0;
      let costMs = 16;
      let fresh = false;
      const loop = (now: number) => {
        if (fresh) costMs += (Math.min(now - drawnAt, 100) - costMs) * 0.1;
        fresh = costMs < SLOW_MS || now - drawnAt >= 2.5 * costMs || now - drawnAt > 100;
        if (fresh) {
          drawnAt = now;
          this.#draw(now);
        }
        this.#handle = requestAnimationFrame(loop);
      };
      this.#handle = requestAnimationFrame(loop);
    }
  }

  stop(): void {
    cancelAnimationFrame(this.#handle);
    clearInterval(this.#slow);
    this.#controller.abort();
    this.#plot?.stop();
    this.#plot = null;
    this.#place = null;
  }

  recolour(): void {
    this.#colours = readColours();
    this.#dirty = true;
  }

  resize(frame: PictureFrame): void {
    this.#frame = frame;
    this.#plot?.stop();
    this.#plot = null;
    this.#rebin();
  }

  choose(choice: SpanChoice): void {
    this.#choice = choice;
    if (this.#state) this.#follow(this.#state, true);
  }

  /** Fetches everything before the current frame again. What is drawn stays until it arrives. */
  refetch(): void {
    this.#rebin();
    this.#since = [];
  }

  hearState(state: LiveState, stale: boolean): void {
    this.#dirty = true;
    this.#stale = stale;
    this.#follow(state, false);
    if (!stale) this.#head.update(state.now.gaugeMm, state.now.speedMmPerS ?? 0, performance.now());
  }

  hearReadings(frame: ReadingsFrame): void {
    if (frame.runId !== this.#runId) return;
    this.#bins.addReadings(frame.gaugeMm, frame.diameterMm);
    this.#since = this.#since && [...this.#since.slice(1 - SINCE_FRAMES), frame];
    const last = frame.gaugeMm.length - 1;
    // Strand between the request and the first frame is in neither, so request once more now that frames arrive.
    if (last >= 0 && frame.gaugeMm[0]! > this.#filledToMm) {
      this.#filledToMm = Number.POSITIVE_INFINITY;
      this.#fill(frame.gaugeMm[last]!);
    }
    if (last >= 0) {
      const speed = frame.speedMmPerS[last] ?? this.#state?.now.speedMmPerS ?? 0;
      this.#head.update(frame.gaugeMm[last]!, speed, performance.now());
    }
    this.#dirty = true;
  }

  /** The picture as a table of at most `rows` rows: distance from the gauge; smallest, mean and largest diameter. */
  rows(rows: number): { fromM: number; toM: number; min: number; mean: number; max: number }[] {
    const out: { fromM: number; toM: number; min: number; mean: number; max: number; n: number }[] = [];
    const step = this.#spanMm / 1000 / rows;
    for (let i = 0; i < this.#trace.x.length; i += 1) {
      const [min, max, mean] = [this.#trace.min[i], this.#trace.max[i], this.#trace.mean[i]];
      if (min == null || max == null || mean == null) continue;
      const k = Math.floor(this.#trace.x[i]! / step);
      const last = out.at(-1);
      if (last && last.fromM === k * step) {
        last.min = Math.min(last.min, min);
        last.max = Math.max(last.max, max);
        last.mean = (last.mean * last.n + mean) / (last.n + 1);
        last.n += 1;
      } else out.push({ fromM: k * step, toM: (k + 1) * step, min, max, mean, n: 1 });
    }
    return out;
  }

  #follow(state: LiveState, refetch: boolean): void {
    const span = spanMm(this.#choice, state.limits.gaugeToWinderMm, state.spool?.woundMm ?? 0);
    const runId = state.run?.id ?? null;
    this.#state = state;
    if (refetch || span !== this.#spanMm || runId !== this.#runId) {
      const sameRun = runId === this.#runId;
      if (!sameRun) this.#head.reset();
      this.#spanMm = span;
      this.#runId = runId;
      this.#rebin(sameRun);
    }
  }

  /** Makes new bins for this span and width and fills them with stored readings. */
  #rebin(keep = true): void {
    if (this.#spanMm === 0) return;
    const columns = Math.round(Math.min(1600, Math.max(240, this.#frame.plotWidth)));
    const bins = new StrandBins(this.#spanMm / columns, columns + SPARE_BINS);
    // Keep what is already drawn: it is all there is while the service cannot be reached.
    if (keep) bins.join(this.#bins);
    this.#since = keep && bins.binMm !== this.#bins.binMm ? [] : null;
    this.#bins = bins;
    this.#dirty = true;
    this.#controller.abort();
    this.#controller = new AbortController();
    this.#fill();
    this.#filledToMm = this.#state?.now.gaugeMm ?? 0;
  }

  #fill(toGaugeMm = this.#state?.now.gaugeMm ?? 0): void {
    if (this.#runId === null || !this.#place) return;
    const bins = this.#bins;
    const columns = bins.capacity - SPARE_BINS;
    const newest = Math.floor(toGaugeMm / bins.binMm) + 1;
    const oldest = Math.max(0, newest - columns);
    if (newest <= oldest) return;
    requestWindow(
      this.#runId,
      {
        axis: 'length',
        from: oldest * bins.binMm,
        to: newest * bins.binMm,
        columns: newest - oldest,
        signals: ['d'],
      },
      this.#controller.signal,
    ).then(
      (window) => {
        const d = window.signals.d;
        if (!d || bins !== this.#bins) return;
        // A wide bin used for a narrow one would put its peak in the wrong place.
        if (this.#since !== null) bins.clear();
        for (const frame of this.#since ?? []) bins.addReadings(frame.gaugeMm, frame.diameterMm);
        this.#since = null;
        for (let i = 0; i < window.count.length; i += 1) {
          const [min, max, mean] = [d.min[i], d.max[i], d.mean[i]];
          if (min == null || max == null || mean == null) continue;
          bins.addColumn((oldest + i + 0.5) * bins.binMm, min, max, mean, Math.max(1, window.count[i]!));
        }
        this.#dirty = true;
        // Where pictures are drawn once a second, do not wait for the next one.
        if (this.#slow !== undefined) this.#draw(performance.now());
      },
      (thrown) => {
        // Live readings continue. The banner and the next refetch handle a lost service.
        logFailure(thrown);
      },
    );
  }

  #draw(now: number): void {
    const state = this.#state;
    if (!state || !this.#place || !this.#colours) return;
    const head = this.#head.at(now);
    // Less than a dot of the screen would show nothing new.
    const dotMm = this.#spanMm / this.#frame.plotWidth / devicePixelRatio;
    if (Number.isNaN(head) || (Math.abs(head - this.#drawnHead) < dotMm && !this.#dirty)) return;
    this.#drawnHead = head;
    this.#dirty = false;
    const pitch = state.now.samplePitchMm;
    const gapMm = Math.max(3 * this.#bins.binMm, pitch === null ? 25 : Math.min(6 * pitch, 400));
    this.#bins.trace(head, this.#spanMm, gapMm, this.#trace);
    const scene: PictureScene = {
      frame: this.#frame,
      colours: this.#colours,
      limits: state.limits,
      headMm: head,
      spanMm: this.#spanMm,
      speedMmPerS: this.#head.speedMmPerS,
      strand: strandOf(state),
      woundMm: state.spool?.woundMm ?? 0,
      sections: state.sections,
      stale: this.#stale,
    };
    const { band, plot } = this.#place;
    const dpr = devicePixelRatio;
    const [w, h] = [Math.round(this.#frame.width * dpr), Math.round(this.#frame.bandHeight * dpr)];
    if (band.width !== w || band.height !== h) {
      band.width = w;
      band.height = h;
    }
    const ctx = band.getContext('2d');
    if (!ctx) return;
    ctx.setTransform(dpr, 0, 0, dpr, 0, 0);
    paintBand(ctx, this.#trace, scene, dpr);
    if (this.#plot === null) {
      this.#plot = new TracePlot(scene);
      void this.#plot.start(plot);
    }
    this.#plot.update(this.#trace, scene);
    this.onDrawn({ frame: this.#frame, headMm: head, spanMm: this.#spanMm });
  }
}
