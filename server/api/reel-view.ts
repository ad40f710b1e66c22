import type { JudgedSpool } from '../monitor/analysis/spool-analysis.ts';
import type { SpoolCase } from '../monitor/analysis/spool-case.ts';
import type { LengthCorrection, Spool } from '../monitor/ports.ts';
import type { LineSettings } from '../settings/line-settings.ts';
import { gramsOfLength, lengthOfGrams } from '../strand/mass.ts';
import { pace, type ReelCapacity, reelCapacity } from '../strand/reel/reel-capacity.ts';
import { lengthOfLayers, placeOnReel, woundDiameter } from '../strand/reel/reel-place.ts';
import { checkReel, type ReelShape, turnsPerLayer } from '../strand/reel/reel-shape.ts';
import { judgedSection } from './judgement-view.ts';
import type { MassView, ReelView } from './spool-contract.ts';
import { lengthScaleView } from './spool-numbers.ts';
import { round, roundOrNull } from './views.ts';

/** How fast strand is wound onto a spool. */
export interface Speed {
  readonly mmPerS: number;
  /** It is being wound now, at this speed; else this was its speed on average. */
  readonly now: boolean;
}

/** A whole layer is one bar, so more bars than layers that a person can see are of no use. */
const BARS_MAX = 120;
/** A turn's beginning and the end of the one before are one place: looked at from a hair's breadth inside. */
const INSIDE_MM = 1e-3;

export function reelShape(settings: LineSettings): ReelShape {
  return {
    coreDiameterMm: settings.spoolCoreMm,
    flangeDiameterMm: settings.spoolFlangeMm,
    widthMm: settings.spoolWidthMm,
    pitchMm: settings.windingPitchMm,
  };
}

export function massView(
  judged: JudgedSpool,
  about: SpoolCase,
  settings: LineSettings,
  winding: boolean,
  speed: Speed | null,
): MassView {
  const strandMm = strandOf(judged, about);
  const { densityGPerCm3 } = about;
  const grams = gramsOfLength(judged.woundMm, strandMm, densityGPerCm3);
  const going = paceOf(reelCapacity(reelShape(settings), strandMm, densityGPerCm3), judged, about, speed);
  return {
    grams: round(grams, 2),
    gramsUncertainty: round(grams * about.lengthShare, 2),
    meanDiameterMm: round(strandMm, 5),
    densityGPerCm3,
    metresPerKilogram: round(lengthOfGrams(1000, strandMm, densityGPerCm3) / 1000, 1),
    gramsPerHour: speed === null ? null : round(going.gramsPerHour, 2),
    timeToFullS: winding && speed?.now === true ? roundOrNull(going.timeToFullS, 0) : null,
    remainingMm: round(going.remainingMm, 0),
    remainingGrams: round(going.remainingGrams, 1),
  };
}

export function reelView(
  judged: JudgedSpool,
  about: SpoolCase,
  given: {
    readonly spool: Spool;
    readonly settings: LineSettings;
    readonly correction: LengthCorrection | null;
    readonly speed: Speed | null;
    readonly turnsCounted: number | null;
    readonly atMm: number | null;
  },
): ReelView {
  const reel = reelShape(given.settings);
  const strandMm = strandOf(judged, about);
  checkReel(reel, strandMm);
  const { densityGPerCm3 } = about;
  const { woundMm } = judged;
  const capacity = reelCapacity(reel, strandMm, densityGPerCm3);
  const going = paceOf(capacity, judged, about, given.speed);
  const placeAt = (positionMm: number) => {
    const place = placeOnReel(reel, strandMm, positionMm);
    return {
      positionMm: round(positionMm, 1),
      layer: place.layer,
      turnInLayer: place.turnInLayer,
      turns: round(place.turns, 2),
      radiusMm: round(place.radiusMm, 2),
      acrossMm: round(place.acrossMm, 2),
    };
  };
  const end = placeAt(woundMm);
  return {
    shape: { ...reel, strandMm: round(strandMm, 4) },
    turnsPerLayer: turnsPerLayer(reel),
    capacityMm: round(capacity.lengthMm, 0),
    capacityGrams: round(capacity.grams, 1),
    woundMm: round(woundMm, 1),
    woundGrams: round(gramsOfLength(woundMm, strandMm, densityGPerCm3), 2),
    layers: woundMm > 0 ? end.layer : 0,
    outerDiameterMm: round(woundDiameter(reel, strandMm, woundMm), 2),
    filledShare: capacity.lengthMm > 0 ? round(woundMm / capacity.lengthMm, 4) : 0,
    remainingMm: round(going.remainingMm, 0),
    remainingGrams: round(going.remainingGrams, 1),
    gramsPerHour: given.speed === null ? null : round(going.gramsPerHour, 2),
    timeToFullS:
      given.spool.endGaugeMm === null && given.speed?.now === true ? roundOrNull(going.timeToFullS, 0) : null,
    at: given.atMm === null ? null : placeAt(given.atMm),
    turnCounter:
      given.turnsCounted === null
        ? null
        : {
            counted: round(given.turnsCounted, 2),
            byGeometry: end.turns,
            differenceShare: end.turns > 0 ? round(given.turnsCounted / end.turns - 1, 4) : 0,
          },
    sections: judged.sections.map((section) => {
      const { id, kind, verdict, fromMm, toMm } = judgedSection(section, about);
      return {
        id,
        kind,
        verdict,
        from: placeAt(fromMm),
        to: placeAt(toMm),
        path: crossSection(reel, strandMm, fromMm, toMm),
      };
    }),
    lengthScale: lengthScaleView(given.correction),
  };
}

/** Where a stretch is cut by a plane through the axis: a bar a layer. */
function crossSection(
  reel: ReelShape,
  strandMm: number,
  fromMm: number,
  toMm: number,
): { acrossMm: number; radiusMm: number; toAcrossMm: number }[] {
  const first = placeOnReel(reel, strandMm, fromMm).layer;
  const last = placeOnReel(reel, strandMm, toMm).layer;
  const every = Math.ceil((last - first + 1) / BARS_MAX);
  const bars: { acrossMm: number; radiusMm: number; toAcrossMm: number }[] = [];
  for (let layer = first; layer <= last; layer += every) {
    const beginMm = Math.max(fromMm, lengthOfLayers(reel, strandMm, layer - 1));
    const endMm = Math.min(toMm, lengthOfLayers(reel, strandMm, layer));
    const insideMm = Math.min(INSIDE_MM, (endMm - beginMm) / 4);
    const begin = placeOnReel(reel, strandMm, Math.max(0, beginMm + insideMm));
    const end = placeOnReel(reel, strandMm, Math.max(0, endMm - insideMm));
    bars.push({
      acrossMm: round(begin.acrossMm, 2),
      radiusMm: round(begin.radiusMm, 2),
      toAcrossMm: round(end.acrossMm, 2),
    });
  }
  return bars;
}

/** Before anything was measured the strand is taken for its nominal diameter. */
function strandOf(judged: JudgedSpool, about: SpoolCase): number {
  return Number.isFinite(judged.meanDiameterMm) ? judged.meanDiameterMm : about.limits.nominalMm;
}

function paceOf(capacity: ReelCapacity, judged: JudgedSpool, about: SpoolCase, speed: Speed | null) {
  return pace(capacity, judged.woundMm, {
    speedMmPerS: speed?.mmPerS ?? 0,
    diameterMm: strandOf(judged, about),
    densityGPerCm3: about.densityGPerCm3,
  });
}
