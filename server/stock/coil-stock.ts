import type { StrandUse, UseAmount } from '../entities/strand-use.ts';
import type { PrintAmount } from '../strand/verdict/print-fit.ts';

/** The strand of a coil or an uncut spool before anything was used. */
export interface WholeStrand {
  readonly lengthMm: number;
  /** k = 2. */
  readonly lengthUncertaintyMm: number;
  /** As a balance shows it: by the mean diameter. null = nothing was measured. */
  readonly gramsPerMm: number | null;
  /** Uncertainty of that, as a share, k = 2. */
  readonly gramsShare: number;
  /** As a slicer counts: by the nominal diameter. */
  readonly slicerGramsPerMm: number;
}

/** A place on the strand, counted from the end that feeds. */
export interface Mark {
  readonly kind: 'jammed' | 'flawed';
  readonly id: number;
  /** null = it was not stated how far the print was. */
  readonly atMm: number | null;
  /** k = 2. */
  readonly uncertaintyMm: number;
}

export interface PrintOfStrand {
  /** The entry with which it begins. */
  readonly id: number;
  /** `open`: it runs, or its end was not noted. */
  readonly outcome: 'open' | 'finished' | 'jammed' | 'flawed';
  readonly isRunning: boolean;
  readonly startedMs: number;
  readonly printer: string | null;
  readonly called: StrandUse['called'];
  readonly needs: PrintAmount | null;
  readonly marks: readonly Mark[];
}

export interface CoilStock {
  /** Never below 0. */
  readonly leftMm: number;
  /** k = 2. */
  readonly leftUncertaintyMm: number;
  /** More may be gone, because it was not stated how much a print used. */
  readonly isAtMost: boolean;
  /** The entry that says so; null = strand is left, or nothing says that all was used. */
  readonly usedUp: Pick<StrandUse, 'who' | 'atMs'> | null;
  readonly prints: readonly PrintOfStrand[];
}

/** Below this a coil counts as running low: too short for most prints. Common practice, no source. */
export const LOW_MM = 20_000;

/** How far an amount that a user states may be off, as a share, k = 2: skirts, purging, rounding. Common practice, no source. */
const STATED_SHARE = 0.05;

interface Length {
  readonly mm: number;
  readonly uncertaintyMm: number;
}
const NOTHING: Length = { mm: 0, uncertaintyMm: 0 };

/** Errors of what users state have the same causes, so they add up. */
function sum(a: Length, b: Length): Length {
  return { mm: a.mm + b.mm, uncertaintyMm: a.uncertaintyMm + b.uncertaintyMm };
}

/**
 * The length of an amount.
 * @param print what the whole print needs
 * @returns null = it cannot be told: no weight without a diameter, no share of a print that is not known
 */
function lengthOfUse(
  { kind, used }: Pick<StrandUse, 'kind'> & { readonly used: Exclude<UseAmount, { unit: 'all' }> },
  print: PrintAmount | null,
  whole: WholeStrand,
): Length | null {
  const stated = (mm: number, share = 0): Length => ({ mm, uncertaintyMm: mm * Math.hypot(STATED_SHARE, share) });
  switch (used.unit) {
    case 'metres':
      return stated(used.amount * 1000);
    case 'grams':
      if (kind !== 'used') return stated(used.amount / whole.slicerGramsPerMm);
      return whole.gramsPerMm === null ? null : stated(used.amount / whole.gramsPerMm, whole.gramsShare);
    case 'percent': {
      if (print === null) return null;
      const needs = lengthOfUse({ kind: 'finished', used: print }, null, whole);
      return needs && stated((needs.mm * used.amount) / 100);
    }
  }
}

interface Building {
  print: Omit<PrintOfStrand, 'marks' | 'outcome' | 'isRunning'> & { outcome: PrintOfStrand['outcome'] };
  marks: Mark[];
  /** Used before it. */
  before: Length;
  /** By this print so far. */
  used: Length;
  ended: boolean;
}

/** What is left of a strand after all that was recorded, in the order in which it was stated, and what became of its prints. */
export function coilStock(whole: WholeStrand, uses: readonly StrandUse[]): CoilStock {
  let used = NOTHING;
  let isAtMost = false;
  let usedUp: CoilStock['usedUp'] = null;
  const prints: Building[] = [];
  const begin = (use: StrandUse): Building => {
    const { id, atMs, printer, called, print } = use;
    const about = { id, startedMs: atMs, printer, called, needs: print };
    const begun: Building = {
      print: { ...about, outcome: 'open' },
      marks: [],
      before: used,
      used: NOTHING,
      ended: false,
    };
    prints.push(begun);
    return begun;
  };
  const running = () => {
    const last = prints.at(-1);
    return last !== undefined && !last.ended ? last : null;
  };
  /** How far the print has come uses that much strand, and no less than before. */
  const reach = (one: Building, length: Length): void => {
    if (length.mm <= one.used.mm) return;
    used = { mm: used.mm - one.used.mm, uncertaintyMm: used.uncertaintyMm - one.used.uncertaintyMm };
    used = sum(used, length);
    one.used = length;
  };
  const markAt = ({ kind, id }: StrandUse, { before }: Building, length: Length | null): Mark | null => {
    if (kind !== 'jammed' && kind !== 'flawed') return null;
    if (length === null) return { kind, id, atMm: null, uncertaintyMm: 0 };
    const at = sum(before, length);
    const scale = whole.lengthMm > 0 ? (at.mm * whole.lengthUncertaintyMm) / whole.lengthMm : 0;
    return { kind, id, atMm: Math.min(whole.lengthMm, at.mm), uncertaintyMm: Math.hypot(at.uncertaintyMm, scale) };
  };
  for (const use of uses) {
    const amount = use.used;
    if (use.kind === 'started') {
      const before = running();
      if (before !== null) before.ended = true;
      begin(use);
      continue;
    }
    if (use.kind === 'used') {
      const length =
        amount === null || amount.unit === 'all' ? null : lengthOfUse({ kind: 'used', used: amount }, null, whole);
      if (length !== null) used = sum(used, length);
      else if (amount?.unit === 'all') usedUp = use;
      else isAtMost = true;
      continue;
    }
    // A flaw may be noted only after the print has finished.
    const last = prints.at(-1);
    const late = use.kind === 'flawed' && last?.print.outcome === 'finished' ? last : null;
    const one = running() ?? late ?? begin(use);
    const needs = use.print ?? one.print.needs;
    one.print = { ...one.print, needs, printer: one.print.printer ?? use.printer };
    const whereMm = () => {
      if (amount?.unit === 'all')
        return { mm: Math.max(0, whole.lengthMm - one.before.mm), uncertaintyMm: used.uncertaintyMm };
      if (amount !== null) return lengthOfUse({ kind: use.kind, used: amount }, needs, whole);
      return use.kind === 'finished' && needs !== null
        ? lengthOfUse({ kind: 'finished', used: needs }, null, whole)
        : null;
    };
    const length = whereMm();
    const mark = markAt(use, one, length);
    if (mark !== null) one.marks.push(mark);
    if (length !== null) reach(one, length);
    if (amount?.unit === 'all') usedUp = use;
    if (use.kind === 'flawed') {
      one.print.outcome = 'flawed';
      continue;
    }
    one.ended = true;
    if (use.kind === 'jammed') one.print.outcome = 'jammed';
    else if (one.print.outcome !== 'flawed') one.print.outcome = 'finished';
    if (length === null) isAtMost = true;
  }
  // A print that is still running, or whose end was not noted, has used an unknown amount of strand.
  const isOpen = ({ print, ended }: Building) => !ended || print.outcome === 'open';
  return {
    leftMm: usedUp !== null ? 0 : Math.max(0, whole.lengthMm - used.mm),
    leftUncertaintyMm: usedUp !== null ? 0 : Math.hypot(whole.lengthUncertaintyMm, used.uncertaintyMm),
    isAtMost: usedUp === null && (isAtMost || prints.some(isOpen)),
    usedUp: usedUp && { who: usedUp.who, atMs: usedUp.atMs },
    prints: prints.map(({ print, marks, ended }) => ({ ...print, marks, isRunning: !ended })),
  };
}
