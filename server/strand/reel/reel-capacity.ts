import { gramsOfLength } from '../mass.ts';
import { lengthOfLayers } from './reel-place.ts';
import { checkReel, type ReelShape } from './reel-shape.ts';

export interface ReelCapacity {
  readonly layers: number;
  readonly lengthMm: number;
  readonly grams: number;
}

/** Whole layers below the rim of the flange, less a free height that keeps turns from falling off. */
export function reelCapacity(reel: ReelShape, strandMm: number, densityGPerCm3: number, freeRimMm = 0): ReelCapacity {
  checkReel(reel, strandMm);
  const height = (reel.flangeDiameterMm - reel.coreDiameterMm) / 2 - freeRimMm;
  const layers = Math.max(0, Math.floor(height / strandMm + 1e-9));
  const lengthMm = lengthOfLayers(reel, strandMm, layers);
  return {
    layers,
    lengthMm,
    grams: gramsOfLength(lengthMm, strandMm, densityGPerCm3),
  };
}

export interface Pace {
  readonly gramsPerHour: number;
  /** Length that still fits; zero on a full spool. */
  readonly remainingMm: number;
  readonly remainingGrams: number;
  /** Infinite while the line stands still. */
  readonly timeToFullS: number;
}

/** How fast the spool fills at the current speed and mean diameter. */
export function pace(
  capacity: ReelCapacity,
  woundMm: number,
  line: {
    readonly speedMmPerS: number;
    readonly diameterMm: number;
    readonly densityGPerCm3: number;
  },
): Pace {
  const remainingMm = Math.max(0, capacity.lengthMm - woundMm);
  const { speedMmPerS, diameterMm, densityGPerCm3 } = line;
  return {
    gramsPerHour: gramsOfLength(speedMmPerS * 3600, diameterMm, densityGPerCm3),
    remainingMm,
    remainingGrams: gramsOfLength(remainingMm, diameterMm, densityGPerCm3),
    timeToFullS: remainingMm === 0 ? 0 : speedMmPerS > 0 ? remainingMm / speedMmPerS : Number.POSITIVE_INFINITY,
  };
}
