import type { Judgement } from '../monitor/spool/judgement.ts';
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
import { placeAtTurns, placeOnReel, type ReelPlace, woundDiameter } from '../strand/reel/reel-place.ts';
import { checkReel, type ReelShape, turnsPerLayer } from '../strand/reel/reel-shape.ts';
import type { MassView } from './contract/judgement.ts';
import type { ReelView } from './contract/on-the-spool.ts';
import { lengthScaleView } from './judgement-view.ts';
import { frameOf, sectionView } from './views.ts';

/** How fast strand is wound onto a spool. */
export interface Speed {
  readonly mmPerS: number;
  /** It is being wound now, at this speed; else this was its speed on average. */
  readonly now: boolean;
}

/** A whole layer is one bar, so more bars than layers that a person can see are of no use. */
const BARS_MAX = 120;
/** A turn's beginning and the end of the one before are one place: looked at from a hair's breadth inside. */
const INSIDE_TURNS = 1e-5;
/** Between so many places the turns of a wound spool go straight: a layer's turns are equally long. */
const PLACES_MAX = 400;

function reelShape(settings: LineSettings): ReelShape {
  return {
    coreDiameterMm: settings.spoolCoreMm,
    flangeDiameterMm: settings.spoolFlangeMm,
    widthMm: settings.spoolWidthMm,
    pitchMm: settings.windingPitchMm,
  };
}

export function massView(
  judged: Judgement,
  meanDiameterMm: number | null,
  settings: LineSettings,
  speed: Speed | null,
): MassView {
  // Before anything was measured the strand is taken for its nominal diameter.
  const strandMm = meanDiameterMm ?? judged.limits.nominalMm;
  const { densityGPerCm3 } = judged.on.settings;
  const grams = gramsOfLength(judged.woundMm, strandMm, densityGPerCm3);
  const going = paceOf(reelCapacity(reelShape(settings), strandMm, densityGPerCm3), judged, strandMm, speed);
  return {
    grams: grams,
    gramsUncertainty: grams * judged.on.scale.share,
    meanDiameterMm: strandMm,
    densityGPerCm3,
    metresPerKilogram: lengthOfGrams(1000, strandMm, densityGPerCm3) / 1000,
    gramsPerHour: speed === null ? null : going.gramsPerHour,
    timeToFullS: isWinding(judged.on) && speed?.now === true ? going.timeToFullS : null,
    remainingMm: going.remainingMm,
    remainingGrams: going.remainingGrams,
  };
}

export function reelView(
  judged: Judgement,
  given: {
    readonly settings: LineSettings;
    readonly speed: Speed | null;
    /** The winder's turn counter, by positions as counted; null = the line sends none. */
    readonly counter: CounterReadings | null;
    readonly atMm: number | null;
  },
): ReelView {
  const reel = reelShape(given.settings);
  const strandMm = judged.meanDiameterMm ?? judged.limits.nominalMm;
  checkReel(reel, strandMm);
  const { densityGPerCm3 } = judged.on.settings;
  const { woundMm } = judged;
  const capacity = reelCapacity(reel, strandMm, densityGPerCm3);
  const going = paceOf(capacity, judged, strandMm, given.speed);
  const byGeometry = (positionMm: number) => placeOnReel(reel, strandMm, positionMm).turns;
  const counted = given.counter === null ? null : countedOn(given.counter, judged, byGeometry);
  const wound = { counted: counted?.turns.at(-1) ?? 0, byGeometry: byGeometry(woundMm) };
  const along = counted !== null && isPlausible(counted, wound.byGeometry) ? counted : null;
  const placeOf = (positionMm: number): ReelPlace =>
    along === null ? placeOnReel(reel, strandMm, positionMm) : placeAtTurns(reel, strandMm, turnsAt(along, positionMm));
  const placeAt = (positionMm: number) => {
    const place = placeOf(positionMm);
    return {
      positionMm: positionMm,
      layer: place.layer,
      turnInLayer: place.turnInLayer,
      turns: place.turns,
      radiusMm: place.radiusMm,
      acrossMm: place.acrossMm,
    };
  };
  const end = placeAt(woundMm);
  const frame = frameOf(judged);
  return {
    shape: { ...reel, strandMm: strandMm },
    turnsPerLayer: turnsPerLayer(reel),
    capacityMm: capacity.lengthMm,
    capacityGrams: capacity.grams,
    woundMm: woundMm,
    woundGrams: gramsOfLength(woundMm, strandMm, densityGPerCm3),
    layers: woundMm > 0 ? end.layer : 0,
    outerDiameterMm: woundDiameter(reel, strandMm, woundMm),
    filledShare: capacity.lengthMm > 0 ? woundMm / capacity.lengthMm : 0,
    remainingMm: going.remainingMm,
    remainingGrams: going.remainingGrams,
    gramsPerHour: given.speed === null ? null : going.gramsPerHour,
    timeToFullS: isWinding(judged.on) && given.speed?.now === true ? going.timeToFullS : null,
    at: given.atMm === null ? null : placeAt(given.atMm),
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
    lengthScale: lengthScaleView(judged.on.correction),
  };
}

/** The counter's own turns, by true positions. */
function countedOn(
  counter: CounterReadings,
  { on, woundMm }: Judgement,
  byGeometry: (positionMm: number) => number,
): CountedTurns | null {
  const positionMm = counter.positionMm.map((mm) => mm * on.scale.factor);
  return countedTurns({ positionMm, count: counter.count }, woundMm, byGeometry);
}

function thinned(along: CountedTurns): { positionMm: number[]; turns: number[] } {
  const all = along.positionMm.length;
  const every = Math.ceil(all / PLACES_MAX);
  const kept = along.positionMm.flatMap((_, i) => (i % every === 0 || i === all - 1 ? [i] : []));
  return {
    positionMm: kept.map((i) => along.positionMm[i]!),
    turns: kept.map((i) => along.turns[i]!),
  };
}

/** Where a stretch is cut by a plane through the axis: a bar a layer. */
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

function paceOf(capacity: ReelCapacity, { woundMm, on }: Judgement, strandMm: number, speed: Speed | null) {
  return pace(capacity, woundMm, {
    speedMmPerS: speed?.mmPerS ?? 0,
    diameterMm: strandMm,
    densityGPerCm3: on.settings.densityGPerCm3,
  });
}
