/** Defects of the strand: local differences of diameter, as a profile along its length. */

import type { Random } from './random.ts';
import type { TruthKind } from './truth.ts';

/** `soft`: a steep start and a long end; `hard`: a thick spot with sharp ends; `stretch`: a plateau with gentle ends. */
type DefectShape = 'soft' | 'hard' | 'stretch';

export type Range = readonly [low: number, high: number];

/** A kind of defect. Each defect draws its dimensions from the ranges. */
export interface DefectPlan {
  readonly kind: TruthKind;
  readonly shape: DefectShape;
  /** Largest difference from the strand around it, mm; negative = thin. */
  readonly excessMm: Range;
  readonly lengthMm: Range;
  /** A neck that follows in this share of cases. */
  readonly neck?: {
    readonly share: number;
    readonly shortfallMm: Range;
    readonly lengthMm: Range;
  };
  readonly note: string;
}

/** One defect on the strand, in gauge length. */
export interface Defect {
  readonly kind: TruthKind;
  readonly shape: DefectShape;
  readonly fromMm: number;
  readonly lengthMm: number;
  readonly excessMm: number;
  /** Position of its largest difference, as a share of the length. */
  readonly peakShare: number;
  readonly note: string;
}

/** Draw a defect, and the neck that may follow it. */
export function drawDefects(plan: DefectPlan, fromMm: number, random: Random): Defect[] {
  const lengthMm = random.between(...plan.lengthMm);
  const first: Defect = {
    kind: plan.kind,
    shape: plan.shape,
    fromMm,
    lengthMm,
    excessMm: random.between(...plan.excessMm),
    peakShare: random.between(0.2, 0.4),
    note: plan.note,
  };
  const neck = plan.neck;
  if (neck === undefined || !random.chance(neck.share)) return [first];
  return [
    first,
    {
      kind: 'neck',
      shape: 'soft',
      fromMm: fromMm + lengthMm,
      lengthMm: random.between(...neck.lengthMm),
      excessMm: -random.between(...neck.shortfallMm),
      peakShare: random.between(0.25, 0.45),
      note: `after a ${plan.kind}`,
    },
  ];
}

/** Difference of diameter of a defect at a place, mm. */
export function excessAtMm(defect: Defect, placeMm: number): number {
  const x = (placeMm - defect.fromMm) / defect.lengthMm;
  if (x <= 0 || x >= 1) return 0;
  switch (defect.shape) {
    case 'soft': {
      const share = x < defect.peakShare ? x / defect.peakShare : (1 - x) / (1 - defect.peakShare);
      return (defect.excessMm * (1 - Math.cos(Math.PI * share))) / 2;
    }
    case 'hard':
      return defect.excessMm * Math.min(1, x / 0.08, (1 - x) / 0.15);
    case 'stretch': {
      const share = Math.min(1, x / 0.1, (1 - x) / 0.15);
      return (defect.excessMm * (1 - Math.cos(Math.PI * share))) / 2;
    }
  }
}
