import { checkReel, type ReelShape, turnsPerLayer } from './reel-shape.ts';

/** A place on the spool. Layers count from 1 at the core, turns from 1 at the flange where the layer starts. */
export interface ReelPlace {
  readonly layer: number;
  readonly turnInLayer: number;
  /** Turns since winding started, with the fraction. */
  readonly turns: number;
  /** From the axis to the middle of the strand. */
  readonly radiusMm: number;
  /** From the flange where winding started to the middle of the turn; the winder moves back and forth. */
  readonly acrossMm: number;
}

/**
 * Length of the first `layers` whole layers with square stacking: a turn of layer k is π(core + (2k − 1)d) long, so the sum
 * is turns · π(layers·core + layers²·d). Turns really nest a little deeper, so the true length is slightly shorter.
 */
export function lengthOfLayers(reel: ReelShape, strandMm: number, layers: number): number {
  return turnsPerLayer(reel) * Math.PI * (layers * reel.coreDiameterMm + layers * layers * strandMm);
}

/** @param positionMm from the inner end; throws a Problem for an impossible shape of the spool */
export function placeOnReel(reel: ReelShape, strandMm: number, positionMm: number): ReelPlace {
  checkReel(reel, strandMm);
  if (!(positionMm >= 0)) throw new RangeError(`a position on the spool cannot be ${positionMm} mm`);
  const perLayer = turnsPerLayer(reel);
  // Layers below: the root of the quadratic in lengthOfLayers, corrected where rounding is one off.
  const sum = positionMm / (perLayer * Math.PI);
  const core = reel.coreDiameterMm;
  let below = Math.floor((Math.sqrt(core * core + 4 * strandMm * sum) - core) / (2 * strandMm));
  if (lengthOfLayers(reel, strandMm, below + 1) <= positionMm) below += 1;
  if (below > 0 && lengthOfLayers(reel, strandMm, below) > positionMm) below -= 1;
  const turnMm = Math.PI * (core + (2 * below + 1) * strandMm);
  return placeIn(reel, strandMm, below, (positionMm - lengthOfLayers(reel, strandMm, below)) / turnMm);
}

/** The place after this many turns since winding started, as a winder with a turn counter knows it. */
export function placeAtTurns(reel: ReelShape, strandMm: number, turns: number): ReelPlace {
  checkReel(reel, strandMm);
  if (!(turns >= 0)) throw new RangeError(`a winder cannot have made ${turns} turns`);
  const perLayer = turnsPerLayer(reel);
  const below = Math.floor(turns / perLayer);
  return placeIn(reel, strandMm, below, turns - below * perLayer);
}

function placeIn(reel: ReelShape, strandMm: number, below: number, turn: number): ReelPlace {
  const perLayer = turnsPerLayer(reel);
  const turnInLayer = Math.min(perLayer, Math.floor(turn) + 1);
  const acrossMm = (turnInLayer - 0.5) * reel.pitchMm;
  return {
    layer: below + 1,
    turnInLayer,
    turns: below * perLayer + turn,
    radiusMm: reel.coreDiameterMm / 2 + (below + 0.5) * strandMm,
    acrossMm: below % 2 === 0 ? acrossMm : perLayer * reel.pitchMm - acrossMm,
  };
}

/** What is known of a place where turns were not counted. */
export interface RoughPlace {
  readonly layerLeast: number;
  readonly layerMost: number;
  /** How far it is from the core to the outside of the winding: 0 to 1. Nearly the same however the turns are stacked. */
  readonly radiusShare: number;
}

/**
 * The layers in which a place can be. Turns may be stacked squarely, or nest in the grooves of the layer below, where a layer
 * adds only √(d² − (pitch/2)²) and may hold a turn less. A nested turn is nearer to the axis and shorter, so that the same
 * length takes more turns.
 *
 * @param lengthShare relative uncertainty of the length
 */
export function roughPlace(
  reel: ReelShape,
  strandMm: number,
  positionMm: number,
  woundMm: number,
  lengthShare: number,
): RoughPlace {
  const grooveMm = Math.min(reel.pitchMm / 2, strandMm);
  // The first layer is on the core either way.
  const nestedMm = Math.max(strandMm / 2, Math.sqrt(strandMm * strandMm - grooveMm * grooveMm));
  const nestedReel = {
    ...reel,
    coreDiameterMm: reel.coreDiameterMm + strandMm - nestedMm,
    flangeDiameterMm: reel.flangeDiameterMm + strandMm,
    widthMm: Math.max(reel.pitchMm, reel.widthMm - reel.pitchMm),
  };
  const coreMm = reel.coreDiameterMm / 2;
  const outsideMm = woundDiameter(reel, strandMm, Math.max(woundMm, positionMm)) / 2;
  const hereMm = woundDiameter(reel, strandMm, positionMm) / 2;
  return {
    layerLeast: placeOnReel(reel, strandMm, positionMm * (1 - lengthShare)).layer,
    layerMost: placeOnReel(nestedReel, nestedMm, positionMm * (1 + lengthShare)).layer,
    radiusShare: outsideMm > coreMm ? (hereMm - coreMm) / (outsideMm - coreMm) : 0,
  };
}

/**
 * Outer diameter of the winding as if the strand filled it evenly, each turn a rectangle d × pitch: √(core² + 4·d·pitch·L/
 * (π·width)). Unlike the layer count it does not jump, so it suits an animated picture.
 */
export function woundDiameter(reel: ReelShape, strandMm: number, woundMm: number): number {
  checkReel(reel, strandMm);
  const area = (4 * strandMm * reel.pitchMm * woundMm) / (Math.PI * reel.widthMm);
  return Math.sqrt(reel.coreDiameterMm ** 2 + area);
}
