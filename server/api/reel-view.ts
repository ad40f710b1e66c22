import { type Judgement, strandMass } from '../monitor/spool/judgement.ts';
import { isWinding } from '../monitor/spool/wound-spool.ts';
import type { LineSettings } from '../settings/line-settings.ts';
import { gramsOfLength, lengthOfGrams } from '../strand/mass.ts';
import {
  type CountedTurns,
  type CounterReadings,
  countedTurns,
  isPlausible,
  turnsAt,
} from '../strand/reel/counted-turns.ts';
import { pace, type ReelCapacity, reelCapacity } from '../strand/reel/reel-capacity.ts';
import { placeAtTurns, placeOnReel, type ReelPlace, roughPlace, woundDiameter } from '../strand/reel/reel-place.ts';
import { checkReel, type ReelShape, reelShapeOf, turnsPerLayer } from '../strand/reel/reel-shape.ts';
import type { MassView } from './contract/judgement.ts';
import type { ReelView } from './contract/spool-analysis.ts';
import { lengthScaleView } from './judgement-view.ts';
import { frameOf, sectionView } from './views.ts';

/** The speed of winding. */
export interface Speed {
  readonly mmPerS: number;
  /** true = the current speed; false = the average while it was wound. */
  readonly now: boolean;
}

/** Each layer is one bar; more could not be distinguished on the page. */
const BARS_MAX = 120;
/** The end of a layer and the start of the next are the same place, so both are taken slightly inside. */
const INSIDE_TURNS = 1e-5;
/** Enough for linear interpolation, because all turns of a layer have the same length. */
const PLACES_MAX = 400;

export function massView(
  judged: Judgement,
  meanDiameterMm: number | null,
  settings: LineSettings,
  speed: Speed | null,
): MassView {
  // Assume the nominal diameter until something has been measured.
  const strandMm = meanDiameterMm ?? judged.limits.nominalMm;
  const { densityGPerCm3, share } = strandMass(judged, strandMm);
  const grams = gramsOfLength(judged.woundMm, strandMm, densityGPerCm3);
  const strand = { diameterMm: strandMm, densityGPerCm3 };
  const going = paceOf(reelCapacity(reelShapeOf(settings), strandMm, densityGPerCm3), judged.woundMm, strand, speed);
  return {
    grams,
    gramsUncertainty: grams * share,
    weighed: judged.woundSpool.weighing,
    meanDiameterMm: strandMm,
    densityGPerCm3,
    metresPerKilogram: lengthOfGrams(1000, strandMm, densityGPerCm3) / 1000,
    gramsPerHour: speed === null ? null : going.gramsPerHour,
    timeToFullS: isWinding(judged.woundSpool) && speed?.now === true ? going.timeToFullS : null,
    remainingMm: going.remainingMm,
    remainingGrams: going.remainingGrams,
  };
}

export function reelView(
  judged: Judgement,
  source: {
    readonly settings: LineSettings;
    readonly speed: Speed | null;
    /** The winder's turn counter, by true position; null = the line sends none. */
    readonly counter: CounterReadings | null;
    readonly atMm: number | null;
  },
): ReelView {
  const reel = reelShapeOf(source.settings);
  const strandMm = judged.meanDiameterMm ?? judged.limits.nominalMm;
  checkReel(reel, strandMm);
  const { densityGPerCm3 } = strandMass(judged, strandMm);
  const { woundMm } = judged;
  const capacity = reelCapacity(reel, strandMm, densityGPerCm3);
  const going = paceOf(capacity, woundMm, { diameterMm: strandMm, densityGPerCm3 }, source.speed);
  const byGeometry = (positionMm: number) => placeOnReel(reel, strandMm, positionMm).turns;
  const counted = source.counter === null ? null : countedTurns(source.counter, woundMm, byGeometry);
  const wound = { counted: counted?.turns.at(-1) ?? 0, byGeometry: byGeometry(woundMm) };
  const along = counted !== null && isPlausible(counted, wound.byGeometry) ? counted : null;
  const placeOf = (positionMm: number): ReelPlace =>
    along === null ? placeOnReel(reel, strandMm, positionMm) : placeAtTurns(reel, strandMm, turnsAt(along, positionMm));
  const placeAt = (positionMm: number) => {
    const place = placeOf(positionMm);
    const rough = roughPlace(reel, strandMm, positionMm, woundMm, judged.woundSpool.scale.share);
    const counts = along !== null;
    return {
      positionMm,
      layer: place.layer,
      layerLeast: counts ? place.layer : rough.layerLeast,
      layerMost: counts ? place.layer : rough.layerMost,
      radiusShare: rough.radiusShare,
      turnInLayer: counts ? place.turnInLayer : null,
      turns: place.turns,
      radiusMm: place.radiusMm,
      acrossMm: place.acrossMm,
    };
  };
  const end = placeAt(woundMm);
  const frame = frameOf(judged);
  return {
    shape: { ...reel, strandMm },
    turnsPerLayer: turnsPerLayer(reel),
    capacityMm: capacity.lengthMm,
    capacityGrams: capacity.grams,
    woundMm,
    woundGrams: gramsOfLength(woundMm, strandMm, densityGPerCm3),
    layers: woundMm > 0 ? end.layer : 0,
    layersLeast: woundMm > 0 ? end.layerLeast : 0,
    layersMost: woundMm > 0 ? end.layerMost : 0,
    outerDiameterMm: woundDiameter(reel, strandMm, woundMm),
    filledShare: capacity.lengthMm > 0 ? woundMm / capacity.lengthMm : 0,
    remainingMm: going.remainingMm,
    remainingGrams: going.remainingGrams,
    gramsPerHour: source.speed === null ? null : going.gramsPerHour,
    timeToFullS: isWinding(judged.woundSpool) && source.speed?.now === true ? going.timeToFullS : null,
    at: source.atMm === null ? null : placeAt(source.atMm),
    placesFrom: along === null ? 'length' : 'turnCounter',
    turnsAlong: along === null ? null : thinned(along),
    turnCounter:
      counted === null
        ? null
        : {
            counted: wound.counted,
            byGeometry: wound.byGeometry,
            differenceShare: wound.byGeometry > 0 ? wound.counted / wound.byGeometry - 1 : 0,
            bridgedTurns: counted.bridgedTurns,
            used: along !== null,
          },
    sections: judged.sections.map((section) => {
      const { id, kind, verdict, fromSpoolMm, toSpoolMm } = sectionView(section, frame, null);
      const [fromMm, toMm] = [fromSpoolMm ?? 0, Math.min(woundMm, toSpoolMm ?? 0)];
      return {
        id,
        kind,
        verdict,
        from: placeAt(fromMm),
        to: placeAt(toMm),
        path: crossSection(reel, strandMm, placeOf(fromMm), placeOf(toMm)),
      };
    }),
    lengthScale: lengthScaleView(judged.woundSpool.correction),
  };
}

function thinned(along: CountedTurns): { positionMm: number[]; turns: number[] } {
  const all = along.positionMm.length;
  const every = Math.ceil(all / PLACES_MAX);
  const isKept = (_: number, i: number) => i % every === 0 || i === all - 1;
  return { positionMm: along.positionMm.filter(isKept), turns: along.turns.filter(isKept) };
}

/** The section of a stretch with a plane through the axis: one bar for each layer. */
function crossSection(
  reel: ReelShape,
  strandMm: number,
  from: ReelPlace,
  to: ReelPlace,
): { acrossMm: number; radiusMm: number; toAcrossMm: number }[] {
  const perLayer = turnsPerLayer(reel);
  const every = Math.ceil((to.layer - from.layer + 1) / BARS_MAX);
  const bars: { acrossMm: number; radiusMm: number; toAcrossMm: number }[] = [];
  for (let layer = from.layer; layer <= to.layer; layer += every) {
    const begin = Math.max(from.turns, (layer - 1) * perLayer);
    const end = Math.max(begin, Math.min(to.turns, layer * perLayer));
    const inside = Math.min(INSIDE_TURNS, (end - begin) / 4);
    const [first, last] = [
      placeAtTurns(reel, strandMm, begin + inside),
      placeAtTurns(reel, strandMm, Math.max(0, end - inside)),
    ];
    bars.push({
      acrossMm: first.acrossMm,
      radiusMm: first.radiusMm,
      toAcrossMm: last.acrossMm,
    });
  }
  return bars;
}

function paceOf(
  capacity: ReelCapacity,
  woundMm: number,
  strand: { readonly diameterMm: number; readonly densityGPerCm3: number },
  speed: Speed | null,
) {
  return pace(capacity, woundMm, { ...strand, speedMmPerS: speed?.mmPerS ?? 0 });
}
