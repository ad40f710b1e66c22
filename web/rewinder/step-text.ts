import type { CutStepView } from '../../server/api/contract/cut-plan.ts';
import { doubtfulName } from '../../server/strand/section-names.ts';
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

type Landmark = CutStepView['landmarks'][number];

/** The landmark that is most likely the one seen at this count. */
export function landmarkAt({ landmarks }: CutStepView, seenAtMm: number): Landmark | null {
  const offMm = (landmark: Landmark) => Math.abs(landmark.afterCutMm - seenAtMm);
  return landmarks.reduce<Landmark | null>(
    (best, one) => (best === null || offMm(one) < offMm(best) ? one : best),
    null,
  );
}

/** Why what was seen at this count cannot be a landmark of the step; null = it can be. */
export function landmarkFault(step: CutStepView, seenAtMm: number): string | null {
  const nearest = landmarkAt(step, seenAtMm);
  if (nearest === null || Math.abs(nearest.afterCutMm - seenAtMm) <= nearest.countErrorMm) return null;
  const from = length(Math.max(0, nearest.afterCutMm - nearest.countErrorMm));
  return `Nothing is expected at ${length(seenAtMm)}, but between ${from} and ${length(nearest.afterCutMm + nearest.countErrorMm)}. Check the counter: this may be something else.`;
}

/** What confirming the last landmark of a step saves, mm; 0 = nothing. */
export function landmarkSavesMm(step: CutStepView): number {
  const last = step.landmarks.at(-1);
  return last === undefined || !step.cutAfter ? 0 : Math.max(0, step.countedMm - last.afterCutMm - last.thenMm);
}

/**
 * @param seenAtMm the counter when a landmark of the step passed; null = not seen yet. From there, only the rest of the bad
 *   stretch and a small margin have to be counted.
 */
export function stepText(step: CutStepView, seenAtMm: number | null = null): StepText {
  const seen = seenAtMm === null ? null : landmarkAt(step, seenAtMm);
  const countedMm =
    seenAtMm === null || seen === null || !step.cutAfter
      ? Math.max(step.countedMm, seenAtMm ?? 0)
      : seenAtMm + seen.thenMm;
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

/** "In doubt, look before you cut: blob (one reading only)." '' = nothing in the piece is in doubt. */
export function doubtText(doubts: CutStepView['doubts']): string {
  const texts = new Set(doubts.map(doubtfulName));
  return texts.size === 0 ? '' : `In doubt, look before you cut: ${[...texts].join('; ')}.`;
}

/** A following step in one short line. */
export function shortStep(step: CutStepView): string {
  const end = step.cutAfter ? 'cut' : 'core';
  const about = length(step.lengthMm);
  return step.action === 'unwindAndKeep'
    ? `Unwind ${about}, ${end}: coil ${step.coil ?? ''}`.trim()
    : `Unwind ${about}, ${end}: discard`;
}

/** Why a discarded piece is longer than the bad stretch in it; '' where nothing was added. */
export function guardText(step: CutStepView): string {
  const both = step.marginBeforeMm + step.marginAfterMm;
  if (step.action !== 'discard' || both <= 0) return '';
  return `${length(both)} of it is good strand: the count may be off, or a piece would be too short to keep.`;
}
