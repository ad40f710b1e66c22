import type { Doubt, MeasuredSection, Verdict } from './section.ts';

/** A section that the detector is still working on. Numbers are NaN where they have no meaning. */
export interface WorkingSection {
  /** 0 until it has been opened. */
  ordinal: number;
  readonly kind: MeasuredSection['kind'];
  fromMm: number;
  toMm: number;
  fromTimeMs: number;
  toTimeMs: number;
  peakMm: number;
  peakAtMm: number;
  volumeMm3: number;
  sure: boolean;
  /** Why it is in doubt while it is not sure; null = plainly not measured. */
  doubt: Doubt | null;
  open: boolean;
  /** Peak in the last report of the section. */
  reportedPeakMm: number;
}

export function newSection(kind: MeasuredSection['kind'], fromMm: number, fromTimeMs: number): WorkingSection {
  return {
    ordinal: 0,
    kind,
    fromMm,
    toMm: fromMm,
    fromTimeMs,
    toTimeMs: fromTimeMs,
    peakMm: Number.NaN,
    peakAtMm: Number.NaN,
    volumeMm3: Number.NaN,
    sure: false,
    doubt: kind === 'unknown' ? null : 'nearLimit',
    open: true,
    reportedPeakMm: Number.NaN,
  };
}

/**
 * Strand that would jam or slip, or that is missing, is discarded once that is sure. Strand that is only out of tolerance
 * or out of round still prints, and unmeasured strand may be good: a user decides about those.
 */
function verdictOf(kind: MeasuredSection['kind'], sure: boolean): Verdict {
  switch (kind) {
    case 'blob':
    case 'neck':
    case 'strandLost':
      return sure ? 'discard' : 'doubtful';
    default:
      return 'doubtful';
  }
}

const orNull = (value: number): number | null => (Number.isNaN(value) ? null : value);

function toMeasured(section: WorkingSection): MeasuredSection {
  return {
    ordinal: section.ordinal,
    kind: section.kind,
    fromMm: section.fromMm,
    toMm: section.toMm,
    fromTimeMs: section.fromTimeMs,
    toTimeMs: section.toTimeMs,
    peakMm: orNull(section.peakMm),
    peakAtMm: orNull(section.peakAtMm),
    volumeBeyondMm3: orNull(section.volumeMm3),
    certainty: section.sure ? 'sure' : 'inDoubt',
    ...(section.sure || section.doubt === null ? {} : { doubt: section.doubt }),
    verdict: verdictOf(section.kind, section.sure),
    open: section.open,
  };
}

const NO_CHANGE: readonly MeasuredSection[] = Object.freeze([]);

/** Numbers the sections of a run in the order in which they open, and collects the open and the changed ones. */
export class RunSections {
  #nextOrdinal: number;
  #open: WorkingSection[] = [];
  #changed: WorkingSection[] = [];

  constructor(nextOrdinal: number) {
    this.#nextOrdinal = nextOrdinal;
  }

  takeOrdinal(): number {
    return this.#nextOrdinal++;
  }

  start(section: WorkingSection): void {
    section.ordinal = this.takeOrdinal();
    this.#open.push(section);
    this.markChanged(section);
  }

  markChanged(section: WorkingSection): void {
    section.reportedPeakMm = section.peakMm;
    if (!this.#changed.includes(section)) this.#changed.push(section);
  }

  end(section: WorkingSection): void {
    section.open = false;
    this.#open = this.#open.filter((other) => other !== section);
    this.markChanged(section);
  }

  open(): readonly MeasuredSection[] {
    return this.#open.map(toMeasured);
  }

  /** The sections that changed since the last call; always the same empty list while none has. */
  takeChanged(): readonly MeasuredSection[] {
    if (this.#changed.length === 0) return NO_CHANGE;
    const changed = this.#changed.map(toMeasured);
    this.#changed = [];
    return changed;
  }
}
