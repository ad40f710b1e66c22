import type { CutStepView } from '../../server/api/contract/cut-plan.ts';
import { length, metres } from '../format/numbers.ts';

/** The texts of one step at the rewinder, without markup. */
export interface StepText {
  readonly verb: string;
  /** Metres to count since the last cut. */
  readonly number: string;
  readonly unit: string;
  readonly after: string;
  /** How far the count may be off: "± 14 cm". */
  readonly off: string;
  readonly fate: string;
  /** The count to reach, mm, corrected if the landmark was seen. */
  readonly countedMm: number;
}

/**
 * @param seenAtMm the counter when the landmark of the step passed; null = not seen yet. The distance from the landmark to the
 *   end of the step stays the same, so the count to reach moves with it.
 */
export function stepText(step: CutStepView, seenAtMm: number | null = null): StepText {
  const planned = step.countedMm;
  const countedMm =
    seenAtMm === null || step.landmark === null
      ? planned
      : Math.max(seenAtMm, planned + seenAtMm - step.landmark.afterCutMm);
  const keep = step.action === 'unwindAndKeep';
  return {
    verb: 'Unwind',
    number: metres(countedMm),
    unit: 'm',
    after: step.cutAfter ? 'then cut' : 'down to the core',
    off: `± ${errorText(step.countErrorMm)}`,
    fate: keep ? `Keep it: coil ${step.coil ?? ''}`.trim() : 'Discard it',
    countedMm,
  };
}

/** The error of a count in a handy unit: mm below a centimetre, cm below a metre, else m. */
export function errorText(mm: number): string {
  if (mm < 10) return `${Math.ceil(mm)}\u00a0mm`;
  if (mm < 1000) return `${Math.ceil(mm / 10)}\u00a0cm`;
  return `${metres(mm, 1)}\u00a0m`;
}

/** A following step in one short line. */
export function shortStep(step: CutStepView): string {
  const end = step.cutAfter ? 'cut' : 'core';
  return step.action === 'unwindAndKeep'
    ? `Unwind ${length(step.countedMm)}, ${end}: coil ${step.coil ?? ''}`.trim()
    : `Unwind ${length(step.countedMm)}, ${end}: discard`;
}

/** Why a discarded piece is longer than the bad stretch in it; '' where nothing was added. */
export function guardText(step: CutStepView): string {
  const both = step.marginBeforeMm + step.marginAfterMm;
  if (step.action !== 'discard' || both <= 0) return '';
  return `${length(both)} of it are good strand, discarded because the count may be off.`;
}
