import { newSection, type RunSections, type WorkingSection } from './working-section.ts';

/** Shortest blob that a bench line makes (common practice, no source: 2–30 mm long), mm. */
export const SHORTEST_BLOB_MM = 2;
/** Sections of the same kind closer than this are one. */
const MERGE_MM = 10;
/** The same where neither speed nor length is known, at the slowest usual 5 mm/s (common practice, no source), ms. */
const MERGE_MS = 2000;
/** Below this pitch even the shortest blob spans three samples, so a lone sample can be recognised as a glitch. */
const LONE_PITCH_MM = 0.36 * SHORTEST_BLOB_MM;
/** A lone sample whose neighbours are further apart than this may belong to a blob whose flanks were lost. */
const LONE_SPAN_MM = 2;
/** A smaller excursion may be noise on thick strand, whose shape says nothing. */
const LONE_HEIGHT_MM = 0.08;
/**
 * In a blob three samples long, the neighbours of the peak together reach half its height or more (a raised cosine: 0.25 +
 * 0.25); next to a glitch they reach nothing. The threshold favours blobs.
 */
const LONE_SHOULDERS = 0.15;
/** Stricter where only one of two axes saw the excursion. */
const LONE_SHOULDERS_ONE_AXIS = 0.25;
const PEAK_STEP_MM = 0.01;

export const mergeGapMm = (pitchMm: number): number => (pitchMm > 0 ? Math.max(MERGE_MM, 1.5 * pitchMm) : MERGE_MM);

/**
 * Finds where the strand is beyond a limit: thicker (side +1: blob) or thinner (side −1: neck).
 *
 * Decision rule of ISO 14253-1 with the gauge's expanded uncertainty U: surely within up to limit − U, surely beyond
 * from limit + U on, in doubt between. A section covers everything that is not surely within, and is sure once a sample is
 * surely beyond. Its edges are interpolated between samples.
 */
export class BlobAndNeckTracker {
  readonly #kind: 'blob' | 'neck';
  readonly #side: 1 | -1;
  readonly #sections: RunSections;
  #limitMm = 0;
  #uncertaintyMm = 0;
  /** Surely within: `side × d ≤ side × limit − U`. */
  #innerMm = 0;
  #section: WorkingSection | null = null;
  /** 0 = within; 1 = one sample beyond, which may be a glitch; 2 = beyond. */
  #run: 0 | 1 | 2 = 0;
  #prevMm = Number.NaN;
  #prevTimeMs = 0;
  #prevDiameterMm = 0;
  /** Start of the run, and the lone sample. */
  #fromMm = 0;
  #fromTimeMs = 0;
  #loneMm = 0;
  #loneTimeMs = 0;
  #loneDiameterMm = 0;
  #loneOneAxis = false;
  #loneBaselineMm = 0;
  /** Elevation of the sample before the lone one, mm; NaN = there was none near. */
  #loneBefore = Number.NaN;
  #loneSpanFromMm = 0;
  #runVolumeMm3 = 0;
  #lostBefore = false;
  /** Lone samples taken for glitches of the gauge. */
  glitches = 0;

  constructor(kind: 'blob' | 'neck', sections: RunSections) {
    this.#kind = kind;
    this.#side = kind === 'blob' ? 1 : -1;
    this.#sections = sections;
  }

  setLimit(limitMm: number, uncertaintyMm: number): void {
    this.#limitMm = limitMm;
    this.#uncertaintyMm = uncertaintyMm;
    this.#innerMm = limitMm - this.#side * uncertaintyMm;
  }

  /** Nothing is pending or open. */
  get idle(): boolean {
    return this.#run === 0 && this.#section === null;
  }

  isBeyond(diameterMm: number): boolean {
    return this.#side * (diameterMm - this.#innerMm) > 0;
  }

  /** A sample within, while idle: remembered as the inner side of a later edge. */
  pass(timeMs: number, gaugeMm: number, diameterMm: number): void {
    this.#prevMm = gaugeMm;
    this.#prevTimeMs = timeMs;
    this.#prevDiameterMm = diameterMm;
    this.#lostBefore = false;
  }

  /** @param baselineMm diameter of the surrounding strand, without excursions; @param outOfRoundMm NaN with one axis */
  step(
    timeMs: number,
    gaugeMm: number,
    diameterMm: number,
    baselineMm: number,
    pitchMm: number,
    outOfRoundMm: number,
  ): void {
    if (this.isBeyond(diameterMm)) {
      if (this.#run === 0) this.#start(timeMs, gaugeMm, diameterMm, baselineMm, outOfRoundMm);
      else {
        if (this.#run === 1) this.#confirm(true);
        this.#run = 2;
        this.#grow(gaugeMm, diameterMm, timeMs);
      }
    } else {
      if (this.#run === 1) {
        const after = this.#side * (diameterMm - this.#loneBaselineMm);
        if (this.#isGlitch(after, gaugeMm, pitchMm)) this.glitches++;
        else {
          this.#confirm(!this.#loneOneAxis);
          this.#leave(timeMs, gaugeMm, diameterMm);
        }
      } else if (this.#run === 2) this.#leave(timeMs, gaugeMm, diameterMm);
      this.#run = 0;
      const section = this.#section;
      if (section !== null && this.#isBehind(section, timeMs, gaugeMm, pitchMm)) this.#end();
    }
    this.pass(timeMs, gaugeMm, diameterMm);
  }

  /**
   * No value over more strand than sections are merged across, or the end of the run.
   * @param lost the strand ran out, so a lone sample before was its end passing the gauge
   */
  interrupt(pitchMm: number, lost: boolean): void {
    if (this.#run === 1 && !lost) {
      // Half of the evidence is missing, so the sample counts, in doubt.
      this.#confirm(!this.#isGlitch(0, this.#loneMm, pitchMm));
    }
    this.#run = 0;
    this.#end();
    this.#prevMm = Number.NaN;
    this.#lostBefore = lost;
  }

  #start(timeMs: number, gaugeMm: number, diameterMm: number, baselineMm: number, outOfRoundMm: number): void {
    this.#run = 1;
    this.#fromMm = gaugeMm;
    this.#fromTimeMs = timeMs;
    this.#loneMm = gaugeMm;
    this.#loneTimeMs = timeMs;
    this.#loneDiameterMm = diameterMm;
    this.#loneBaselineMm = baselineMm;
    this.#loneBefore = this.#lostBefore ? 0 : Number.NaN;
    this.#loneSpanFromMm = gaugeMm;
    this.#runVolumeMm3 = 0;
    const height = this.#side * (diameterMm - baselineMm);
    // One axis saw all of it and the other almost nothing.
    this.#loneOneAxis = outOfRoundMm > 0.9 * height;
    if (Number.isNaN(this.#prevMm)) return;
    const share = (this.#innerMm - this.#prevDiameterMm) / (diameterMm - this.#prevDiameterMm);
    this.#fromMm = this.#prevMm + share * (gaugeMm - this.#prevMm);
    this.#fromTimeMs = this.#prevTimeMs + share * (timeMs - this.#prevTimeMs);
    this.#loneBefore = this.#side * (this.#prevDiameterMm - baselineMm);
    this.#loneSpanFromMm = this.#prevMm;
    this.#runVolumeMm3 = this.#volumeSince(gaugeMm, diameterMm);
  }

  #isGlitch(afterMm: number, gaugeMm: number, pitchMm: number): boolean {
    const height = this.#side * (this.#loneDiameterMm - this.#loneBaselineMm);
    if (!(pitchMm <= LONE_PITCH_MM) || !(height > LONE_HEIGHT_MM)) return false;
    if (gaugeMm - this.#loneSpanFromMm > LONE_SPAN_MM) return false;
    const shoulders = this.#loneOneAxis ? LONE_SHOULDERS_ONE_AXIS : LONE_SHOULDERS;
    // NaN (no sample before) compares false: not a glitch.
    return this.#loneBefore + afterMm < shoulders * height;
  }

  /** The run is real: open a section, or join the one nearby. */
  #confirm(sureAllowed: boolean): void {
    let section = this.#section;
    if (section === null) {
      section = newSection(this.#kind, this.#fromMm, this.#fromTimeMs);
      section.volumeMm3 = 0;
      this.#section = section;
    }
    section.volumeMm3 += this.#runVolumeMm3;
    this.#measure(section, this.#loneMm, this.#loneDiameterMm, this.#loneTimeMs, sureAllowed);
    if (section.ordinal === 0) this.#sections.start(section);
  }

  #grow(gaugeMm: number, diameterMm: number, timeMs: number): void {
    const section = this.#section as WorkingSection;
    section.volumeMm3 += this.#volumeSince(gaugeMm, diameterMm);
    this.#measure(section, gaugeMm, diameterMm, timeMs, true);
  }

  #measure(section: WorkingSection, gaugeMm: number, diameterMm: number, timeMs: number, sureAllowed: boolean): void {
    section.toMm = gaugeMm;
    section.toTimeMs = timeMs;
    let reported = true;
    if (!(this.#side * (diameterMm - section.peakMm) <= 0)) {
      section.peakMm = diameterMm;
      section.peakAtMm = gaugeMm;
      reported = Math.abs(diameterMm - section.reportedPeakMm) < PEAK_STEP_MM;
    }
    if (!section.sure && sureAllowed && this.#side * (diameterMm - this.#limitMm) > this.#uncertaintyMm) {
      section.sure = true;
      reported = false;
    }
    if (!reported && section.ordinal !== 0) this.#sections.markChanged(section);
  }

  #leave(timeMs: number, gaugeMm: number, diameterMm: number): void {
    const section = this.#section as WorkingSection;
    section.volumeMm3 += this.#volumeSince(gaugeMm, diameterMm);
    const share = (this.#innerMm - this.#prevDiameterMm) / (diameterMm - this.#prevDiameterMm);
    // New limits may have moved the crossing out of this step.
    const within = share >= 0 && share <= 1 ? share : 0;
    section.toMm = this.#prevMm + within * (gaugeMm - this.#prevMm);
    section.toTimeMs = this.#prevTimeMs + within * (timeMs - this.#prevTimeMs);
  }

  /** Too far behind to be joined with later strand. Where length is unknown, a section starts and ends in the same place. */
  #isBehind(section: WorkingSection, timeMs: number, gaugeMm: number, pitchMm: number): boolean {
    if (gaugeMm - section.toMm > mergeGapMm(pitchMm)) return true;
    return gaugeMm === section.fromMm && timeMs - section.toTimeMs > MERGE_MS;
  }

  #end(): void {
    if (this.#section !== null) this.#sections.end(this.#section);
    this.#section = null;
  }

  /** ∫ π/4 · |d² − limit²| dx over the part of the last step that is beyond the limit (trapezoid rule), mm³. */
  #volumeSince(gaugeMm: number, diameterMm: number): number {
    const before = this.#side * (this.#prevDiameterMm - this.#limitMm);
    const after = this.#side * (diameterMm - this.#limitMm);
    const step = gaugeMm - this.#prevMm;
    if ((before <= 0 && after <= 0) || Number.isNaN(step)) return 0;
    const areaBefore = before > 0 ? this.#areaBeyond(this.#prevDiameterMm) : 0;
    const areaAfter = after > 0 ? this.#areaBeyond(diameterMm) : 0;
    const share = before > 0 && after > 0 ? 1 : Math.max(before, after) / Math.abs(after - before);
    return ((areaBefore + areaAfter) / 2) * step * share;
  }

  #areaBeyond(diameterMm: number): number {
    return (Math.PI / 4) * Math.abs(diameterMm * diameterMm - this.#limitMm * this.#limitMm);
  }
}
