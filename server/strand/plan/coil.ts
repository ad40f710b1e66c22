import type { CoilRepair } from './coil-repair.ts';
import type { DonePiece } from './done-cuts.ts';
import type { Placed } from './placed.ts';
import type { StretchInDoubt } from './stretches-in-doubt.ts';

export interface Coil extends Placed {
  /** Given by a user, else letters in the order of unwinding. */
  readonly name: string;
  readonly named: boolean;
  /** A, B, … in the order of unwinding, whatever its name: the end of the code on its label. */
  readonly letter: string;
  readonly state: 'planned' | 'cut';
  /** `spoilt`: a wrong cut left a bad stretch in it, so it does not count as kept. */
  readonly condition: DonePiece['condition'];
  /** How to save it; null = it is clean. */
  readonly repair: CoilRepair | null;
  readonly doubtfulMm: number;
  readonly unknownMm: number;
  /** Stretches in doubt that stay in it. */
  readonly doubts: readonly StretchInDoubt[];
  readonly grams: number | null;
  /** Uncertainties from length scale, gauge and density, k = 2. */
  readonly lengthUncertaintyMm: number;
  readonly gramsUncertainty: number | null;
}

/** keptMm + discardedMm + unknownMm = woundMm, exactly. */
export interface CutTotals {
  readonly woundMm: number;
  /** Measured strand in coils. */
  readonly keptMm: number;
  /** Measured strand that is cut out, or in a spoilt coil. */
  readonly discardedMm: number;
  /** Unmeasured strand, in coils or not. */
  readonly unknownMm: number;
  readonly unknownInCoilsMm: number;
  /** Good strand that is cut out, in margins and in pieces too short to keep. */
  readonly goodDiscardedMm: number;
  /** What is kept only because landmarks are confirmed: that much more is lost if none is. */
  readonly landmarkGainMm: number;
  readonly cuts: number;
}

/** A print of the list, and the coil for it; null = no coil is left that is long enough. */
export interface PlannedPrint {
  readonly needMm: number;
  readonly coil: string | null;
}
