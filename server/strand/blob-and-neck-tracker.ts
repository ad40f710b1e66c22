import { Excursion, type StrandSample } from './excursion.ts';
import type { GaugeNoise } from './gauge-noise.ts';
import type { ShiftDoubt } from './section.ts';
import { SurelyBeyond } from './surely-beyond.ts';
import { newSection, type RunSections, type WorkingSection } from './working-section.ts';

/** Sections of the same kind closer than this are one. */
const MERGE_MM = 10;
/** The same where neither speed nor length is known, at the slowest usual 5 mm/s (common practice, no source), ms. */
const MERGE_MS = 2000;
const PEAK_STEP_MM = 0.01;
/** More sections than end before a shift of the gauge is recognised. */
const RECENT_MAX = 32;

export const mergeGapMm = (pitchMm: number): number => (pitchMm > 0 ? Math.max(MERGE_MM, 1.5 * pitchMm) : MERGE_MM);

/**
 * Finds where the strand is beyond a limit: thicker (side +1: blob) or thinner (side −1: neck).
 *
 * Decision rule of ISO 14253-1 with the gauge's expanded uncertainty U: surely within up to limit − U, surely beyond where
 * `SurelyBeyond` says so, in doubt between. A section covers everything that is not surely within, unless it is noise or a
 * wrong reading of the gauge (`Excursion`). It is sure once it is surely beyond and enough readings have seen that. Its edges
 * are interpolated between readings.
 */
export class BlobAndNeckTracker {
  readonly #kind: 'blob' | 'neck';
  readonly #side: 1 | -1;
  readonly #sections: RunSections;
  readonly #beyond: SurelyBeyond;
  readonly #excursion: Excursion;
  #limitMm = 0;
  #uncertaintyMm = 0;
  /** By how much all readings may be off besides, mm, and why. */
  #shiftMm = 0;
  #shiftDoubt: ShiftDoubt = 'gaugeShifted';
  /** Surely within: `side × d ≤ side × limit − U`. */
  #innerMm = 0;
  #section: WorkingSection | null = null;
  readonly #recentlySure: { readonly section: WorkingSection; readonly evidenceMm: number }[] = [];
  /** Within; beyond, but perhaps noise or a wrong reading; beyond. */
  #state: 'within' | 'pending' | 'beyond' = 'within';
  #prevMm = Number.NaN;
  #prevTimeMs = 0;
  #prevDiameterMm = 0;
  #lostBefore = false;
  /** Excursions taken for wrong readings or noise of the gauge; they made no section. */
  glitches = 0;

  constructor(kind: 'blob' | 'neck', sections: RunSections, noise: GaugeNoise) {
    this.#kind = kind;
    this.#side = kind === 'blob' ? 1 : -1;
    this.#sections = sections;
    this.#beyond = new SurelyBeyond(noise);
    this.#excursion = new Excursion(this.#side);
  }

  setLimit(limitMm: number, uncertaintyMm: number): void {
    this.#limitMm = limitMm;
    this.#uncertaintyMm = uncertaintyMm;
    this.#innerMm = limitMm - this.#side * uncertaintyMm;
  }

  /**
   * Takes all readings since `sinceMm` to be off by up to this, mm. Sections since then, open or ended, are no longer sure
   * because of it: a shift is recognised only after some strand.
   */
  setShift(shiftMm: number, doubt: ShiftDoubt, sinceMm: number): void {
    this.#shiftMm = shiftMm;
    this.#shiftDoubt = doubt;
    if (shiftMm === 0) return;
    for (const { section, evidenceMm } of this.#recentlySure)
      if (section.toMm > sinceMm) this.#reconsider(section, evidenceMm);
    if (this.#section !== null) this.#reconsider(this.#section, this.#beyond.evidenceMm);
  }

  #reconsider(section: WorkingSection, evidenceMm: number): void {
    if (!section.sure || this.#beyond.isSure(this.#uncertaintyMm + this.#shiftMm, evidenceMm)) return;
    section.sure = false;
    section.doubt = this.#shiftDoubt;
    this.#sections.markChanged(section);
  }

  /** Nothing is pending or open. */
  get idle(): boolean {
    return this.#state === 'within' && this.#section === null;
  }

  isBeyond(diameterMm: number): boolean {
    return this.#side * (diameterMm - this.#innerMm) > 0;
  }

  /** A sample within, while idle: remembered as the inner side of a later edge. */
  pass(timeMs: number, gaugeMm: number, diameterMm: number): void {
    this.#prevMm = gaugeMm;
    this.#prevTimeMs = timeMs;
    this.#prevDiameterMm = diameterMm;
  }

  step(sample: StrandSample): void {
    const { timeMs, gaugeMm, diameterMm, pitchMm } = sample;
    if (this.isBeyond(diameterMm)) {
      if (this.#state === 'within') this.#start(sample);
      else this.#excursion.grow(sample, this.#volumeSince(gaugeMm, diameterMm));
      this.#beyond.add(this.#side * (diameterMm - this.#limitMm), pitchMm);
      this.#growSection(sample);
    } else {
      this.#beyond.add(this.#side * (diameterMm - this.#limitMm), pitchMm);
      if (this.#state !== 'within') this.#leave(sample);
      const section = this.#section;
      if (section !== null && this.#isBehind(section, timeMs, gaugeMm, pitchMm)) this.#end();
    }
    this.pass(timeMs, gaugeMm, diameterMm);
  }

  /**
   * No value over more strand than sections are merged across, or the end of the run.
   * @param lost the strand ran out, so readings before were its end passing the gauge
   */
  interrupt(lost: boolean): void {
    // Half of the evidence is missing, so a reading or two count, in doubt.
    if (this.#state === 'pending' && !lost) {
      this.#confirm();
      this.#judge(false);
    }
    this.#state = 'within';
    this.#end();
    this.#prevMm = Number.NaN;
    this.#lostBefore = lost;
  }

  #start(sample: StrandSample): void {
    const { timeMs, gaugeMm, diameterMm, baselineMm } = sample;
    if (this.#section === null) this.#beyond.restart();
    this.#state = 'pending';
    const hasPrevious = !Number.isNaN(this.#prevMm);
    const before = hasPrevious ? this.#prevDiameterMm : this.#lostBefore ? baselineMm : Number.NaN;
    const excursion = this.#excursion;
    excursion.start(sample, this.#innerMm, this.#prevMm, before);
    if (!hasPrevious) return;
    const share = this.#crossedShare(diameterMm);
    excursion.fromMm = this.#prevMm + share * (gaugeMm - this.#prevMm);
    excursion.fromTimeMs = this.#prevTimeMs + share * (timeMs - this.#prevTimeMs);
    excursion.volumeMm3 = this.#volumeSince(gaugeMm, diameterMm);
  }

  #growSection(sample: StrandSample): void {
    const excursion = this.#excursion;
    if (this.#state === 'pending') {
      if (!excursion.isLongEnough || this.#mayBeNoise(sample)) return;
      this.#confirm();
    } else this.#measure(this.#section as WorkingSection);
    this.#judge(excursion.isWitnessed);
  }

  #mayBeNoise({ sigmaMm, isNoisy }: StrandSample, afterMm?: number): boolean {
    if (isNoisy && !this.#beyond.isSureHere(this.#uncertaintyMm)) return true;
    return !this.#excursion.isBeyondNoise(sigmaMm, afterMm);
  }

  /** The excursion is strand: open a section, or join the one nearby. */
  #confirm(): void {
    this.#state = 'beyond';
    const { fromMm, fromTimeMs } = this.#excursion;
    let section = this.#section;
    if (section === null) {
      section = newSection(this.#kind, fromMm, fromTimeMs);
      section.volumeMm3 = 0;
      this.#section = section;
    }
    this.#measure(section);
    if (section.ordinal === 0) this.#sections.start(section);
  }

  #measure(section: WorkingSection): void {
    const { toMm, toTimeMs, peakMm, peakAtMm } = this.#excursion;
    section.volumeMm3 += this.#excursion.takeVolume();
    section.toMm = toMm;
    section.toTimeMs = toTimeMs;
    if (this.#side * (peakMm - section.peakMm) <= 0) return;
    section.peakMm = peakMm;
    section.peakAtMm = peakAtMm;
    if (!(Math.abs(peakMm - section.reportedPeakMm) < PEAK_STEP_MM)) this.#sections.markChanged(section);
  }

  /** @param witnessed enough readings have seen the excursion */
  #judge(witnessed: boolean): void {
    const section = this.#section as WorkingSection;
    const beyond = this.#beyond;
    const isBeyond = beyond.isSureHere(this.#uncertaintyMm);
    if (witnessed) beyond.keep();
    if (section.sure) return;
    if (beyond.isSure(this.#uncertaintyMm + this.#shiftMm)) {
      section.sure = true;
      this.#sections.markChanged(section);
    } else if (beyond.isSure(this.#uncertaintyMm)) section.doubt = this.#shiftDoubt;
    else if (witnessed) section.doubt = 'nearLimit';
    else if (isBeyond) section.doubt = this.#excursion.readings === 1 ? 'oneReading' : 'fewReadings';
  }

  #leave(sample: StrandSample): void {
    const { timeMs, gaugeMm, diameterMm } = sample;
    const excursion = this.#excursion;
    if (this.#state === 'pending') {
      if (excursion.isGlitch(sample) || this.#mayBeNoise(sample, diameterMm)) {
        this.glitches++;
        this.#state = 'within';
        this.#beyond.drop();
        return;
      }
      this.#confirm();
    }
    this.#state = 'within';
    const section = this.#section as WorkingSection;
    section.volumeMm3 += this.#volumeSince(gaugeMm, diameterMm);
    const share = this.#crossedShare(diameterMm);
    section.toMm = this.#prevMm + share * (gaugeMm - this.#prevMm);
    section.toTimeMs = this.#prevTimeMs + share * (timeMs - this.#prevTimeMs);
    const witnessed = excursion.isWitnessedWith(sample);
    this.#judge(witnessed);
    if (!witnessed) this.#beyond.drop();
  }

  /** Which share of the step to this reading lies before the place where it is no longer, or again, surely within. */
  #crossedShare(diameterMm: number): number {
    const share = (this.#innerMm - this.#prevDiameterMm) / (diameterMm - this.#prevDiameterMm);
    // New limits may have moved the crossing out of this step.
    return share >= 0 && share <= 1 ? share : 0;
  }

  /** Too far behind to be joined with later strand. Where length is unknown, a section starts and ends in the same place. */
  #isBehind(section: WorkingSection, timeMs: number, gaugeMm: number, pitchMm: number): boolean {
    if (gaugeMm - section.toMm > mergeGapMm(pitchMm)) return true;
    return gaugeMm === section.fromMm && timeMs - section.toTimeMs > MERGE_MS;
  }

  #end(): void {
    const section = this.#section;
    if (section === null) return;
    this.#sections.end(section);
    this.#section = null;
    if (!section.sure) return;
    this.#recentlySure.push({ section, evidenceMm: this.#beyond.evidenceMm });
    if (this.#recentlySure.length > RECENT_MAX) this.#recentlySure.shift();
  }

  /** ∫ π/4 · |d² − limit²| dx over the part of the last step that is beyond the limit (trapezoid rule), mm³. */
  #volumeSince(gaugeMm: number, diameterMm: number): number {
    const before = this.#side * (this.#prevDiameterMm - this.#limitMm);
    const after = this.#side * (diameterMm - this.#limitMm);
    const step = gaugeMm - this.#prevMm;
    if (before <= 0 && after <= 0) return 0;
    const areaBefore = before > 0 ? this.#areaBeyond(this.#prevDiameterMm) : 0;
    const areaAfter = after > 0 ? this.#areaBeyond(diameterMm) : 0;
    const share = before > 0 && after > 0 ? 1 : Math.max(before, after) / Math.abs(after - before);
    return ((areaBefore + areaAfter) / 2) * step * share;
  }

  #areaBeyond(diameterMm: number): number {
    return (Math.PI / 4) * Math.abs(diameterMm * diameterMm - this.#limitMm * this.#limitMm);
  }
}
