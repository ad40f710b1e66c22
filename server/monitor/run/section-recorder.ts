import { cutOutsOf, effectiveSections, isGone } from '../../strand/effective-sections.ts';
import type { Stretch } from '../../strand/position.ts';
import { reconcileSections } from '../../strand/reconcile-sections.ts';
import { type MeasuredSection, nextOrdinal, type Section, type StatedSection } from '../../strand/section.ts';
import { type SampleContext, SectionDetector } from '../../strand/section-detector.ts';
import type { StrandLimits } from '../../strand/strand-limits.ts';
import type { StrandAdvisory } from '../../strand/trend/advisory.ts';
import type { RecordReader, RecordWriter } from '../ports/record.ts';
import { createSpoolTrends, type SpoolTrends } from './spool-trends.ts';

export interface SectionRecorderParts {
  readonly writer: RecordWriter;
  readonly reader: RecordReader;
  readonly limits: StrandLimits;
  readonly detector: SectionDetector;
  readonly trends: SpoolTrends;
}

export function createSectionRecorder(
  writer: RecordWriter,
  reader: RecordReader,
  limits: StrandLimits,
): SectionRecorder {
  const detector = new SectionDetector(limits, 1);
  return new SectionRecorder({ writer, reader, limits, detector, trends: createSpoolTrends(limits, 0) });
}

/** Where trends that continue from earlier readings are handed over. */
export interface EarlierTrends {
  /** Another spool has started, or the readings are being read again. */
  readonly obsolete: () => boolean;
  /** Readings are to be read up to here, if this is farther than where they began to be kept. */
  readonly droppedToMm: () => number;
  /** @param lastTimeMs of the last reading in them */
  use(earlier: SpoolTrends, lastTimeMs: number): void;
  cancel(): void;
}

/**
 * Runs the detector over the strand of a run and saves what it finds. Of the strand that passed while purging, only what
 * ends up on a spool is saved: the strand between gauge and winder when winding starts.
 */
export class SectionRecorder {
  readonly #writer: RecordWriter;
  readonly #reader: RecordReader;
  #limits: StrandLimits;
  #detector: SectionDetector;
  #trends: SpoolTrends;
  /** Steps since the service started, while earlier readings of the spool are still being read; null = none are. */
  #pendingSteps: PendingTrendSteps | null = null;
  #runId: number | null = null;
  #ordinalsOfRun = 0;
  #measured = new Map<number, MeasuredSection>();
  /** Ordinals of sections that are on a spool. */
  readonly #onSpools = new Set<number>();
  readonly #unsaved = new Set<number>();
  readonly #unsavedOfEndedRuns: { readonly runId: number; readonly sections: readonly MeasuredSection[] }[] = [];
  #underway: MeasuredSection[] = [];
  #stated: readonly StatedSection[] = [];
  #cutOuts: readonly Stretch[] = [];
  #effective: readonly Section[] | null = null;
  #winding = false;
  #paused = true;

  constructor({ writer, reader, limits, detector, trends }: SectionRecorderParts) {
    this.#writer = writer;
    this.#reader = reader;
    this.#limits = limits;
    this.#detector = detector;
    this.#trends = trends;
  }

  /** The run whose sections the ordinals number, even after it has ended; 0 = no run yet. */
  get ordinalsOfRun(): number {
    return this.#ordinalsOfRun;
  }

  setLimits(limits: StrandLimits): void {
    this.#limits = limits;
    this.#detector.setLimits(limits);
    this.#trends.setTolerance(limits.toleranceMm);
  }

  startRun(runId: number): void {
    this.#runId = runId;
    this.#ordinalsOfRun = runId;
    this.#detector = new SectionDetector(this.#limits, 1);
    this.#startTrends(0);
    this.#measured = new Map();
    this.#onSpools.clear();
    this.#unsaved.clear();
    this.#underway = [];
    this.#useStated([]);
    this.#winding = false;
    this.#paused = true;
  }

  /**
   * Resumes a run after a restart of the service. Sections that were open then end where they were last saved.
   * `lastReported`: number of a section that an alarm has reported. A kill may have lost the section, but its number must
   * not be used again, or the next blob would count as the same one.
   */
  resumeRun(
    runId: number,
    at: { gaugeMm: number; winderGaugeMm: number; winding: boolean; lastReported: number },
  ): void {
    const { gaugeMm, winderGaugeMm, winding, lastReported } = at;
    this.closeOpen(runId);
    this.startRun(runId);
    const measured = this.#reader.measuredSections(runId);
    this.#underway = measured.filter((section) => section.toMm > winderGaugeMm);
    this.#measured = new Map(measured.map((section) => [section.ordinal, section]));
    for (const { ordinal } of measured) this.#onSpools.add(ordinal);
    this.#detector = new SectionDetector(this.#limits, Math.max(this.#nextOrdinal(runId, measured), lastReported + 1));
    this.#useStated(this.#reader.statedSections(runId));
    this.#winding = winding;
    this.#startTrends(gaugeMm);
  }

  /**
   * Keeps the latest steps while earlier readings of the spool are being read, so that trends and mean diameter can be continued
   * from them. Call `use` or `cancel` when they have been read.
   */
  awaitEarlierTrends(): EarlierTrends {
    const steps = new PendingTrendSteps();
    this.#pendingSteps = steps;
    const obsolete = () => this.#pendingSteps !== steps;
    return {
      obsolete,
      droppedToMm: () => steps.droppedToMm,
      use: (earlier, lastTimeMs) => {
        if (obsolete()) return;
        this.#pendingSteps = null;
        earlier.setTolerance(this.#limits.toleranceMm);
        steps.applyTo(earlier, lastTimeMs);
        this.#trends = earlier;
      },
      cancel: () => {
        if (!obsolete()) this.#pendingSteps = null;
      },
    };
  }

  /** Ends the sections that were still open when the service stopped, where they were last saved. */
  closeOpen(runId: number): void {
    const open = this.#reader.measuredSections(runId).filter((section) => section.open);
    if (open.length === 0) return;
    this.#writer.saveMeasuredSections(
      runId,
      open.map((section) => ({ ...section, open: false })),
    );
  }

  /**
   * A spool starts at `startGaugeMm`, while `gaugeMm` of strand has passed the gauge. Earlier sections are on no spool, but
   * stay in memory, because the winder's turns may show later that the spool started earlier.
   */
  startSpool(startGaugeMm: number, gaugeMm: number): void {
    this.#winding = true;
    this.#startTrends(gaugeMm);
    this.#assignToSpool(startGaugeMm, Number.POSITIVE_INFINITY, []);
  }

  /** The last spool goes on: strand since its end at `endGaugeMm` is on it. Its trends go on too. */
  continueSpool(endGaugeMm: number): void {
    this.#winding = true;
    this.#assignToSpool(endGaugeMm, Number.POSITIVE_INFINITY, []);
  }

  /**
   * Adds strand of a run, ended or not, to a spool: sections known there and sections `found` again in its readings. They are
   * saved when this returns.
   */
  addStrand(runId: number, fromGaugeMm: number, toGaugeMm: number, found: readonly MeasuredSection[]): void {
    if (runId === this.#runId) this.#assignToSpool(fromGaugeMm, toGaugeMm, found);
    // Unsaved sections of ended runs must be written before new ordinals are taken.
    this.save();
    if (runId === this.#runId) return;
    const known = this.#reader.measuredSections(runId);
    const { widened, added } = reconcileSections(found, known);
    const next = this.#nextOrdinal(runId, known);
    const numbered = added.map((section, i) => ({ ...section, ordinal: next + i }));
    this.#writer.saveMeasuredSections(runId, [...widened, ...numbered]);
  }

  #assignToSpool(fromGaugeMm: number, toGaugeMm: number, found: readonly MeasuredSection[]): void {
    // Open sections have grown since they were opened.
    for (const open of this.#detector.open()) this.#measured.set(open.ordinal, open);
    const known = [...this.#measured.values()];
    for (const section of known) {
      const isInside = section.toMm > fromGaugeMm && section.fromMm < toGaugeMm;
      if (isInside && !this.#onSpools.has(section.ordinal)) this.#saveLater(section);
    }
    const { widened, added } = reconcileSections(found, known);
    const numbered = added.map((section) => ({ ...section, ordinal: this.#detector.takeOrdinal() }));
    for (const section of [...widened, ...numbered]) {
      this.#measured.set(section.ordinal, section);
      this.#saveLater(section);
    }
    this.#effective = null;
  }

  endSpool(): void {
    this.#winding = false;
  }

  /** One sample of the strand. @returns whether a section was opened, closed or reclassified */
  step(timeMs: number, gaugeMm: number, diameterMm: number, context: SampleContext): boolean {
    this.#paused = false;
    const changed = this.#detector.step(timeMs, gaugeMm, diameterMm, context);
    // Drift is normal while purging, and a gauge that is frozen or in doubt measures nothing.
    const measured = Number.isNaN(context.frozenSinceMm) && !this.#detector.isGaugeDoubted;
    if (this.#winding) this.#stepTrends(timeMs, gaugeMm, diameterMm, measured);
    if (changed.length > 0) this.#update(changed);
    return changed.length > 0;
  }

  /** The strand has stopped or is missing, so open sections end here. @returns whether any was open */
  pause(timeMs: number): boolean {
    if (this.#paused) return false;
    this.#paused = true;
    this.#trends.interrupt();
    this.#pendingSteps?.interrupt();
    const changed = this.#detector.close(timeMs);
    if (changed.length > 0) this.#update(changed);
    return changed.length > 0;
  }

  /** Sections that are on no spool are discarded. */
  endRun(timeMs: number): void {
    this.pause(timeMs);
    this.#winding = false;
    this.#underway = [];
    const runId = this.#runId;
    this.#runId = null;
    const sections = this.#unsavedSections();
    this.#unsaved.clear();
    if (runId === null || sections.length === 0) return;
    this.#unsavedOfEndedRuns.push({ runId, sections });
    this.#saveEndedRuns();
  }

  /** Reads again what users stated about sections of the current run. */
  refreshStated(): void {
    if (this.#runId === null) return;
    this.#useStated(this.#reader.statedSections(this.#runId));
  }

  #useStated(stated: readonly StatedSection[]): void {
    this.#stated = stated;
    this.#cutOuts = cutOutsOf(stated);
    this.#effective = null;
  }

  /** Saves changes; called once a second and when a run ends. */
  save(): void {
    this.#saveEndedRuns();
    if (this.#runId === null) return;
    for (const open of this.#detector.open()) {
      if (this.#onSpools.has(open.ordinal)) {
        this.#measured.set(open.ordinal, open);
        this.#unsaved.add(open.ordinal);
      }
    }
    if (this.#unsaved.size === 0) return;
    this.#writer.saveMeasuredSections(this.#runId, this.#unsavedSections());
    this.#unsaved.clear();
  }

  /** Sections measured on spools of this run; open ones as they are now. */
  measured(): readonly MeasuredSection[] {
    const open = new Map(this.#detector.open().map((section) => [section.ordinal, section]));
    return [...this.#measured.values()]
      .filter((section) => this.#onSpools.has(section.ordinal))
      .map((section) => open.get(section.ordinal) ?? section);
  }

  effective(): readonly Section[] {
    if (this.#runId === null) return [];
    if (this.#effective === null || this.#detector.open().length > 0) {
      this.#effective = effectiveSections(this.measured(), this.#stated);
    }
    return this.#effective;
  }

  /** Strand of this run that users cut out before it was wound. */
  get cutOuts(): readonly Stretch[] {
    return this.#cutOuts;
  }

  /** Sections that have not reached the winder in full, newest last, without those that were cut out. */
  underway(winderGaugeMm: number): readonly MeasuredSection[] {
    if (this.#underway.length === 0) return this.#underway;
    const open = this.#detector.open();
    this.#underway = this.#underway
      .map((section) => open.find((candidate) => candidate.ordinal === section.ordinal) ?? section)
      .filter((section) => section.open || section.toMm > winderGaugeMm);
    return this.#cutOuts.length === 0 ? this.#underway : this.#underway.filter((one) => !isGone(one, this.#cutOuts));
  }

  /** Drift and surging that continue at the gauge. */
  openTrends(): readonly StrandAdvisory[] {
    return this.#winding ? this.#trends.open() : [];
  }

  /** Where the strand at the gauge ended; null = it is unbroken. */
  lostAtGaugeMm(): number | null {
    return this.#detector.open().find((section) => section.kind === 'strandLost')?.fromMm ?? null;
  }

  /** Averaged over the strand on the spool; null = nothing measured yet. */
  meanDiameterMm(): number | null {
    return this.#trends.meanDiameterMm(this.#cutOuts);
  }

  #startTrends(gaugeMm: number): void {
    this.#trends = createSpoolTrends(this.#limits, gaugeMm);
    this.#pendingSteps = null;
  }

  #stepTrends(timeMs: number, gaugeMm: number, diameterMm: number, measured: boolean): void {
    this.#trends.step(timeMs, gaugeMm, diameterMm, measured);
    this.#pendingSteps?.step(timeMs, gaugeMm, diameterMm, measured);
  }

  #unsavedSections(): readonly MeasuredSection[] {
    return [...this.#unsaved].flatMap((ordinal) => this.#measured.get(ordinal) ?? []);
  }

  /** Saves sections of runs that ended while the record could not be written. */
  #saveEndedRuns(): void {
    for (let first = this.#unsavedOfEndedRuns[0]; first !== undefined; first = this.#unsavedOfEndedRuns[0]) {
      this.#writer.saveMeasuredSections(first.runId, first.sections);
      this.#unsavedOfEndedRuns.shift();
    }
  }

  #update(changed: readonly MeasuredSection[]): void {
    for (const section of changed) {
      const isNew = !this.#measured.has(section.ordinal);
      this.#measured.set(section.ordinal, section);
      if (this.#winding || this.#onSpools.has(section.ordinal)) this.#saveLater(section);
      const at = this.#underway.findIndex((known) => known.ordinal === section.ordinal);
      if (at >= 0) this.#underway[at] = section;
      else if (isNew) this.#underway.push(section);
    }
    this.#effective = null;
  }

  /** A section that cannot be read keeps its number, so that what is known of its place is not overwritten. */
  #nextOrdinal(runId: number, measured: readonly MeasuredSection[]): number {
    return nextOrdinal([...measured, ...this.#reader.unreadableSections(runId)]);
  }

  #saveLater(section: MeasuredSection): void {
    this.#onSpools.add(section.ordinal);
    this.#unsaved.add(section.ordinal);
  }
}

/** A hundred seconds at 50 readings/s. */
const PENDING_STEPS_MAX = 5000;

/**
 * Trend steps that are applied once earlier readings have been read. If that takes long, steps are dropped, and their readings
 * are to be read as well: a busy machine or a slow card would otherwise fill the memory.
 */
class PendingTrendSteps {
  /** Gauge length of the last step that was dropped. */
  droppedToMm = Number.NEGATIVE_INFINITY;
  #lastMm = Number.NEGATIVE_INFINITY;
  #steps: ((trends: SpoolTrends, afterMs: number) => void)[] = [];

  step(timeMs: number, gaugeMm: number, diameterMm: number, measured: boolean): void {
    if (this.#steps.length >= PENDING_STEPS_MAX) {
      this.#steps = [];
      this.droppedToMm = this.#lastMm;
    }
    this.#lastMm = gaugeMm;
    this.#steps.push((trends, afterMs) => {
      if (timeMs > afterMs) trends.step(timeMs, gaugeMm, diameterMm, measured);
    });
  }

  interrupt(): void {
    this.#steps.push((trends) => trends.interrupt());
  }

  /** @param afterMs the time of the last reading that the trends have taken */
  applyTo(trends: SpoolTrends, afterMs: number): void {
    for (const step of this.#steps) step(trends, afterMs);
  }
}
