import type { SpoolMap } from './spool-map.ts';

/** Positions in whole mm: `…OuterMm` from the outer end of the full spool, the others from its inner end. */
export interface Placed {
  readonly fromMm: number;
  readonly toMm: number;
  readonly fromOuterMm: number;
  readonly toOuterMm: number;
  readonly lengthMm: number;
}

export function placed({ woundMm }: Pick<SpoolMap, 'woundMm'>, fromOuterMm: number, toOuterMm: number): Placed {
  return {
    fromMm: woundMm - toOuterMm,
    toMm: woundMm - fromOuterMm,
    fromOuterMm,
    toOuterMm,
    lengthMm: toOuterMm - fromOuterMm,
  };
}
