import type { MeasuredSection, Verdict } from './section.ts';

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
  open: boolean;
  /** Peak when it was last given out. */
  toldPeakMm: number;
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
    open: true,
    toldPeakMm: Number.NaN,
  };
}

/**
 * A strand that jams, slips or is not there is to be cut out when that is sure. One that is merely off tolerance or out
 * of round prints, if not well, and one that nobody measured may be good: those are for a person to judge.
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
    verdict: verdictOf(section.kind, section.sure),
    open: section.open,
  };
}

const NOTHING: readonly MeasuredSection[] = Object.freeze([]);

/** Numbers the sections of a run in order of opening, and keeps which are open and which have changed. */
export class SectionRegister {
  #nextOrdinal: number;
  #open: WorkingSection[] = [];
  #touched: WorkingSection[] = [];

  constructor(nextOrdinal: number) {
    this.#nextOrdinal = nextOrdinal;
  }

  takeOrdinal(): number {
    return this.#nextOrdinal++;
  }

  begin(section: WorkingSection): void {
    section.ordinal = this.takeOrdinal();
    this.#open.push(section);
    this.touch(section);
  }

  touch(section: WorkingSection): void {
    section.toldPeakMm = section.peakMm;
    if (!this.#touched.includes(section)) this.#touched.push(section);
  }

  end(section: WorkingSection): void {
    section.open = false;
    this.#open = this.#open.filter((other) => other !== section);
    this.touch(section);
  }

  open(): readonly MeasuredSection[] {
    return this.#open.map(toMeasured);
  }

  /** What has changed since the last call; the same empty list while nothing has. */
  take(): readonly MeasuredSection[] {
    if (this.#touched.length === 0) return NOTHING;
    const changed = this.#touched.map(toMeasured);
    this.#touched = [];
    return changed;
  }
}
