/**
 * The position of the newest strand on screen. Frames arrive about 20 times a second, pictures are drawn 60 times. Between
 * frames the head moves on at the strand's speed and is eased to where the frames put it. It never moves back.
 */
export class MovingHead {
  #shownMm = Number.NaN;
  #targetMm = Number.NaN;
  #speedMmPerS = 0;
  #heardAt = 0;
  #shownAt = 0;

  get speedMmPerS(): number {
    return this.#speedMmPerS;
  }

  reset(): void {
    this.#shownMm = Number.NaN;
    this.#targetMm = Number.NaN;
  }

  /** Takes the gauge length and speed of a frame. `atMs` is any monotonic clock, the same as in `at`. */
  update(gaugeMm: number, speedMmPerS: number, atMs: number): void {
    this.#targetMm = gaugeMm;
    this.#speedMmPerS = speedMmPerS;
    this.#heardAt = atMs;
  }

  /** Gauge length to draw at a moment, mm; NaN before the first frame. */
  at(nowMs: number): number {
    if (Number.isNaN(this.#targetMm)) return Number.NaN;
    // Without frames for long, the strand may not be moving: stop.
    const ahead = Math.min(Math.max(nowMs - this.#heardAt, 0), 250) / 1000;
    const wanted = this.#targetMm + this.#speedMmPerS * ahead;
    const passed = Math.min(Math.max(nowMs - this.#shownAt, 0), 250) / 1000;
    this.#shownAt = nowMs;
    const speed = nowMs - this.#heardAt < 250 ? this.#speedMmPerS : 0;
    const off = wanted - this.#shownMm;
    if (Number.isNaN(this.#shownMm) || Math.abs(off) > Math.max(100, this.#speedMmPerS)) {
      this.#shownMm = wanted;
      return this.#shownMm;
    }
    const step = speed * passed + (off - speed * passed) * Math.min(1, passed * 6);
    this.#shownMm += Math.max(0, step);
    return this.#shownMm;
  }
}
