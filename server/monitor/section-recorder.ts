import { effectiveSections } from '../strand/effective-sections.ts';
import { reconcileSections } from '../strand/reconcile-sections.ts';
import type { MeasuredSection, Section, StatedSection } from '../strand/section.ts';
import { type SampleContext, SectionDetector } from '../strand/section-detector.ts';
import type { StrandLimits } from '../strand/strand-limits.ts';
import type { StrandAdvisory } from '../strand/trend/advisory.ts';
import type { RecordReader, RecordWriter } from './ports/record.ts';
import { StrandCourse } from './strand-course.ts';

/**
 * Runs the detector over the strand of a run and keeps what it finds. What passed while purging is kept only where it
 * comes to lie on a spool: the strand between gauge and winder when winding begins.
 */
export class SectionRecorder {
  readonly #writer: RecordWriter;
  readonly #reader: RecordReader;
  #limits: StrandLimits;
  #detector: SectionDetector;
  #course: StrandCourse;
  /** Steps since the service started, while the course before is still read; null = it is not. */
  #awaiting: CourseSteps | null = null;
  #runId: number | null = null;
  #ofRun = 0;
  #measured = new Map<number, MeasuredSection>();
  readonly #kept = new Set<number>();
  readonly #unsaved = new Set<number>();
  readonly #ended: { readonly runId: number; readonly sections: readonly MeasuredSection[] }[] = [];
  #underway: MeasuredSection[] = [];
  #stated: readonly StatedSection[] = [];
  #effective: readonly Section[] | null = null;
  #onSpool = false;
  #paused = true;

  constructor(writer: RecordWriter, reader: RecordReader, limits: StrandLimits) {
    this.#writer = writer;
    this.#reader = reader;
    this.#limits = limits;
    this.#detector = new SectionDetector(limits, 1);
    this.#course = new StrandCourse(limits, 0);
  }

  /** The run in which its sections began to be counted from 1, also when that is over; 0 = none yet. */
  get ofRun(): number {
    return this.#ofRun;
  }

  setLimits(limits: StrandLimits): void {
    this.#limits = limits;
    this.#detector.setLimits(limits);
    this.#course.setTolerance(limits.toleranceMm);
  }

  runBegan(runId: number): void {
    this.#runId = runId;
    this.#ofRun = runId;
    this.#detector = new SectionDetector(this.#limits, 1);
    this.#beginCourse(0);
    this.#measured = new Map();
    this.#kept.clear();
    this.#unsaved.clear();
    this.#underway = [];
    this.#stated = [];
    this.#effective = null;
    this.#onSpool = false;
    this.#paused = true;
  }

  /** Go on with a run that the service was stopped in: what was open then stays as it was last written. */
  resume(runId: number, gaugeMm: number, winderGaugeMm: number, onSpool: boolean): void {
    this.closeOpen(runId);
    this.runBegan(runId);
    const measured = this.#reader.measuredSections(runId);
    this.#underway = measured.filter((section) => section.toMm > winderGaugeMm);
    this.#measured = new Map(measured.map((section) => [section.ordinal, section]));
    for (const { ordinal } of measured) this.#kept.add(ordinal);
    this.#detector = new SectionDetector(this.#limits, nextOrdinal(measured));
    this.#stated = this.#reader.statedSections(runId);
    this.#onSpool = onSpool;
    this.#beginCourse(gaugeMm);
  }

  /**
   * The course of the spool before the service was started is being read.
   * @returns takes it when it is there: what has come meanwhile comes behind it; it is of no use if another spool began.
   * Until it is taken or given up each reading is kept
   */
  awaitCourse(): { readonly unwanted: () => boolean; take(before: StrandCourse): void; giveUp(): void } {
    const steps = new CourseSteps();
    this.#awaiting = steps;
    const unwanted = () => this.#awaiting !== steps;
    return {
      unwanted,
      take: (before) => {
        if (unwanted()) return;
        this.#awaiting = null;
        before.setTolerance(this.#limits.toleranceMm);
        steps.follow(before);
        this.#course = before;
      },
      giveUp: () => {
        if (!unwanted()) this.#awaiting = null;
      },
    };
  }

  /** What was still growing when the service stopped ends as it was last written. */
  closeOpen(runId: number): void {
    const open = this.#reader.measuredSections(runId).filter((section) => section.open);
    if (open.length === 0) return;
    this.#writer.saveMeasuredSections(
      runId,
      open.map((section) => ({ ...section, open: false })),
    );
  }

  /**
   * A spool has begun at this gauge length, with so much strand past the gauge by now. Sections that lie wholly before it
   * are not on any, but not forgotten: the winder's turns may yet tell that it began earlier.
   */
  spoolBegan(startGaugeMm: number, gaugeMm: number): void {
    this.#onSpool = true;
    this.#beginCourse(gaugeMm);
    this.#countStrand(startGaugeMm, Number.POSITIVE_INFINITY, []);
  }

  /**
   * Strand between these gauge lengths of a run, over or not, comes to a spool. What is known of it counts, and so does what
   * was found anew; it is written when this returns.
   */
  addStrand(runId: number, fromGaugeMm: number, toGaugeMm: number, found: readonly MeasuredSection[]): void {
    if (runId === this.#runId) this.#countStrand(fromGaugeMm, toGaugeMm, found);
    // Sections of a run that ended while the disk refused take their numbers first.
    this.save();
    if (runId === this.#runId) return;
    const known = this.#reader.measuredSections(runId);
    const { widened, added } = reconcileSections(found, known);
    const next = nextOrdinal(known);
    const counted = added.map((section, i) => ({ ...section, ordinal: next + i }));
    this.#writer.saveMeasuredSections(runId, [...widened, ...counted]);
  }

  #countStrand(fromGaugeMm: number, toGaugeMm: number, found: readonly MeasuredSection[]): void {
    // What is open reaches further than when it was opened.
    for (const open of this.#detector.open()) this.#measured.set(open.ordinal, open);
    const known = [...this.#measured.values()];
    for (const section of known) {
      const on = section.toMm > fromGaugeMm && section.fromMm < toGaugeMm;
      if (on && !this.#kept.has(section.ordinal)) this.#keep(section);
    }
    const { widened, added } = reconcileSections(found, known);
    const counted = added.map((section) => ({ ...section, ordinal: this.#detector.takeOrdinal() }));
    for (const section of [...widened, ...counted]) {
      this.#measured.set(section.ordinal, section);
      this.#keep(section);
    }
    this.#effective = null;
  }

  spoolEnded(): void {
    this.#onSpool = false;
  }

  /** One sample of the strand. True = a section was opened, closed, or changed in what it means. */
  step(timeMs: number, gaugeMm: number, diameterMm: number, context: SampleContext): boolean {
    this.#paused = false;
    // While purging the strand drifts by right. What a frozen gauge repeats is no measurement.
    if (this.#onSpool) this.#follow(timeMs, gaugeMm, diameterMm, Number.isNaN(context.frozenSinceMm));
    const changed = this.#detector.step(timeMs, gaugeMm, diameterMm, context);
    if (changed.length > 0) this.#take(changed);
    return changed.length > 0;
  }

  /** The strand stands or is not there: what was open ends here. */
  pause(timeMs: number): boolean {
    if (this.#paused) return false;
    this.#paused = true;
    this.#course.interrupt();
    this.#awaiting?.interrupt();
    const changed = this.#detector.close(timeMs);
    if (changed.length > 0) this.#take(changed);
    return changed.length > 0;
  }

  /** The run has ended. What was found on no spool is forgotten. */
  runEnded(timeMs: number): void {
    this.pause(timeMs);
    this.#onSpool = false;
    this.#underway = [];
    const runId = this.#runId;
    this.#runId = null;
    const sections = this.#takeUnsaved();
    if (runId === null || sections.length === 0) return;
    this.#ended.push({ runId, sections });
    this.#saveEnded();
  }

  /** A person spoke. */
  stated(): void {
    if (this.#runId === null) return;
    this.#stated = this.#reader.statedSections(this.#runId);
    this.#effective = null;
  }

  /** Write what has changed; called once a second and when a run ends. */
  save(): void {
    this.#saveEnded();
    if (this.#runId === null) return;
    for (const open of this.#detector.open()) {
      if (this.#kept.has(open.ordinal)) {
        this.#measured.set(open.ordinal, open);
        this.#unsaved.add(open.ordinal);
      }
    }
    if (this.#unsaved.size === 0) return;
    const sections = [...this.#unsaved].flatMap((ordinal) => this.#measured.get(ordinal) ?? []);
    this.#writer.saveMeasuredSections(this.#runId, sections);
    this.#unsaved.clear();
  }

  /** What was measured on spools in this run, what is still growing as it stands now. */
  measured(): readonly MeasuredSection[] {
    const open = new Map(this.#detector.open().map((section) => [section.ordinal, section]));
    return [...this.#measured.values()]
      .filter((section) => this.#kept.has(section.ordinal))
      .map((section) => open.get(section.ordinal) ?? section);
  }

  effective(): readonly Section[] {
    if (this.#runId === null) return [];
    if (this.#effective === null || this.#detector.open().length > 0) {
      this.#effective = effectiveSections(this.measured(), this.#stated);
    }
    return this.#effective;
  }

  /** Sections that have not reached the winder in full, newest last. */
  underway(winderGaugeMm: number): readonly MeasuredSection[] {
    if (this.#underway.length === 0) return this.#underway;
    const open = this.#detector.open();
    this.#underway = this.#underway
      .map((section) => open.find((candidate) => candidate.ordinal === section.ordinal) ?? section)
      .filter((section) => section.open || section.toMm > winderGaugeMm);
    return this.#underway;
  }

  /** Drift and surging that go on at the gauge. */
  trends(): readonly StrandAdvisory[] {
    return this.#onSpool ? this.#course.open() : [];
  }

  /** Where the strand at the gauge ended; null = it is whole. */
  lostAtGaugeMm(): number | null {
    return this.#detector.open().find((section) => section.kind === 'strandLost')?.fromMm ?? null;
  }

  /** Mean diameter along the length since the spool began; null = nothing measured yet. */
  meanDiameterMm(): number | null {
    return this.#course.meanDiameterMm;
  }

  #beginCourse(gaugeMm: number): void {
    this.#course = new StrandCourse(this.#limits, gaugeMm);
    this.#awaiting = null;
  }

  #follow(timeMs: number, gaugeMm: number, diameterMm: number, measured: boolean): void {
    this.#course.step(timeMs, gaugeMm, diameterMm, measured);
    this.#awaiting?.step(timeMs, gaugeMm, diameterMm, measured);
  }

  #takeUnsaved(): readonly MeasuredSection[] {
    const sections = [...this.#unsaved].flatMap((ordinal) => this.#measured.get(ordinal) ?? []);
    this.#unsaved.clear();
    return sections;
  }

  /** Sections of runs that ended while the disk refused. */
  #saveEnded(): void {
    while (this.#ended[0] !== undefined) {
      this.#writer.saveMeasuredSections(this.#ended[0].runId, this.#ended[0].sections);
      this.#ended.shift();
    }
  }

  #take(changed: readonly MeasuredSection[]): void {
    for (const section of changed) {
      const isNew = !this.#measured.has(section.ordinal);
      this.#measured.set(section.ordinal, section);
      if (this.#onSpool || this.#kept.has(section.ordinal)) this.#keep(section);
      const at = this.#underway.findIndex((known) => known.ordinal === section.ordinal);
      if (at >= 0) this.#underway[at] = section;
      else if (isNew) this.#underway.push(section);
    }
    this.#effective = null;
  }

  #keep(section: MeasuredSection): void {
    this.#kept.add(section.ordinal);
    this.#unsaved.add(section.ordinal);
  }
}

function nextOrdinal(sections: readonly MeasuredSection[]): number {
  return Math.max(0, ...sections.map(({ ordinal }) => ordinal)) + 1;
}

/** Steps of a course, kept to be taken later. */
class CourseSteps {
  readonly #steps: ((course: StrandCourse) => void)[] = [];

  step(timeMs: number, gaugeMm: number, diameterMm: number, measured: boolean): void {
    this.#steps.push((course) => course.step(timeMs, gaugeMm, diameterMm, measured));
  }

  interrupt(): void {
    this.#steps.push((course) => course.interrupt());
  }

  follow(course: StrandCourse): void {
    for (const step of this.#steps) step(course);
  }
}
