import type { ReelView } from '../../server/api/contract/spool-analysis.ts';
import { turnsAt } from '../../server/strand/reel/counted-turns.ts';
import { placeAtTurns, placeOnReel, type ReelPlace, roughPlace } from '../../server/strand/reel/reel-place.ts';
import { percent } from '../format/numbers.ts';

/** Positions in the two pictures of a wound spool: from the side (rings), and cut through its axis (bars). */

type Place = Pick<ReelView['sections'][number]['from'], 'layer' | 'turns' | 'radiusMm'>;

/** The layer and turn of a position from the inner end: by the winder's turn counter if it has one, else by length. */
export function placeIn(reel: Pick<ReelView, 'shape' | 'turnsAlong'>, positionMm: number): ReelPlace {
  const { shape, turnsAlong } = reel;
  return turnsAlong === null
    ? placeOnReel(shape, shape.strandMm, positionMm)
    : placeAtTurns(shape, shape.strandMm, turnsAt(turnsAlong, positionMm));
}

/** Layer and turn if turns were counted; else the layers in which the place can be. */
export function placeText(
  reel: Pick<ReelView, 'shape' | 'turnsAlong' | 'turnsPerLayer' | 'woundMm' | 'lengthScale'>,
  at: ReelPlace,
  positionMm: number,
): string {
  const { shape, turnsAlong, turnsPerLayer, woundMm, lengthScale } = reel;
  if (turnsAlong !== null) return `layer ${at.layer}, turn ${at.turnInLayer} of ${turnsPerLayer}`;
  const rough = roughPlace(shape, shape.strandMm, positionMm, woundMm, lengthScale.share);
  return `${layersText(rough.layerLeast, rough.layerMost, 'layer')}, ${percent(rough.radiusShare)} of the way from core to outside`;
}

/** "layer 3", "layer 24 to 27". */
export function layersText(least: number, most: number, word = ''): string {
  return `${word} ${least === most ? least : `${least} to ${most}`}`.trim();
}

/** A piece of a ring. Turns from 0 to 1 go once around, clockwise from the top. */
export interface Arc {
  readonly radiusMm: number;
  readonly fromTurn: number;
  readonly toTurn: number;
}

/**
 * The arcs that a stretch covers, one for each layer: what is longer than a turn within a layer covers its whole ring.
 * @param turnsPerLayer whole turns from flange to flange
 * @param strandMm height of a layer
 */
export function arcsOf(from: Place, to: Place, turnsPerLayer: number, strandMm: number): Arc[] {
  const arcs: Arc[] = [];
  for (let layer = from.layer; layer <= to.layer; layer += 1) {
    const first = Math.max(from.turns, (layer - 1) * turnsPerLayer);
    const last = layer === to.layer ? to.turns : layer * turnsPerLayer;
    const radiusMm = from.radiusMm + (layer - from.layer) * strandMm;
    if (last - first >= 1) arcs.push({ radiusMm, fromTurn: 0, toTurn: 1 });
    else arcs.push({ radiusMm, fromTurn: first % 1, toTurn: (first % 1) + Math.max(0, last - first) });
  }
  return arcs;
}

/** Widens an arc so that it can be seen; mm along its radius. */
export function widened(arc: Arc, leastMm: number): Arc {
  const least = Math.min(1, leastMm / (2 * Math.PI * Math.max(1e-6, arc.radiusMm)));
  const missing = least - (arc.toTurn - arc.fromTurn);
  return missing <= 0 ? arc : { ...arc, fromTurn: arc.fromTurn - missing / 2, toTurn: arc.toTurn + missing / 2 };
}

/** SVG path of an arc about (cx, cy), px; the winding grows outwards. */
export function arcPath(arc: Arc, cx: number, cy: number, pxPerMm: number): string {
  const r = arc.radiusMm * pxPerMm;
  const point = (turn: number) => {
    const angle = turn * 2 * Math.PI;
    return `${(cx + r * Math.sin(angle)).toFixed(2)} ${(cy - r * Math.cos(angle)).toFixed(2)}`;
  };
  const span = arc.toTurn - arc.fromTurn;
  if (span >= 1 - 1e-9) {
    // One SVG arc cannot go all the way around, so draw two halves.
    const half = `A${r.toFixed(2)} ${r.toFixed(2)} 0 0 1 `;
    return `M${point(0)}${half}${point(0.5)}${half}${point(1)}`;
  }
  return `M${point(arc.fromTurn)}A${r.toFixed(2)} ${r.toFixed(2)} 0 ${span > 0.5 ? 1 : 0} 1 ${point(arc.toTurn)}`;
}

/** A bar in the cut through the axis, mm: x from the flange at which winding started, y from the core. */
export interface Bar {
  readonly leftMm: number;
  readonly widthMm: number;
  readonly bottomMm: number;
  readonly heightMm: number;
}

export function barsOf(
  path: ReelView['sections'][number]['path'],
  shape: Pick<ReelView['shape'], 'coreDiameterMm' | 'pitchMm' | 'strandMm'>,
): Bar[] {
  return path.map((one) => {
    // A position is the middle of a turn: half a pitch belongs to each side.
    const left = Math.min(one.acrossMm, one.toAcrossMm) - shape.pitchMm / 2;
    const right = Math.max(one.acrossMm, one.toAcrossMm) + shape.pitchMm / 2;
    return {
      leftMm: Math.max(0, left),
      widthMm: right - Math.max(0, left),
      bottomMm: one.radiusMm - shape.strandMm / 2 - shape.coreDiameterMm / 2,
      heightMm: shape.strandMm,
    };
  });
}

/** The section nearest to a point seen from the side: by radius first, because rings are closer together than angles. */
export function sectionAtRing(
  reel: Pick<ReelView, 'sections' | 'turnsPerLayer' | 'shape'>,
  dxMm: number,
  dyMm: number,
): string | null {
  const radius = Math.hypot(dxMm, dyMm);
  const turn = (Math.atan2(dxMm, -dyMm) / (2 * Math.PI) + 1) % 1;
  let best: string | null = null;
  let least = Number.POSITIVE_INFINITY;
  for (const section of reel.sections) {
    for (const arc of arcsOf(section.from, section.to, reel.turnsPerLayer, reel.shape.strandMm)) {
      const ahead = (turn - arc.fromTurn + 2) % 1;
      const span = arc.toTurn - arc.fromTurn;
      const offTurn = ahead <= span ? 0 : Math.min(ahead - span, 1 - ahead);
      const off = Math.hypot(radius - arc.radiusMm, offTurn * 2 * Math.PI * arc.radiusMm);
      if (off < least) [least, best] = [off, section.id];
    }
  }
  // More than half a core away from every section, none was meant.
  return least <= 8 ? best : null;
}

/** The section at a point of the cut through the axis. */
export function sectionAtBar(
  reel: Pick<ReelView, 'sections' | 'shape'>,
  acrossMm: number,
  upMm: number,
  slackMm: number,
): string | null {
  let best: string | null = null;
  let least = slackMm;
  for (const section of reel.sections) {
    for (const bar of barsOf(section.path, reel.shape)) {
      const dx = Math.max(0, bar.leftMm - acrossMm, acrossMm - bar.leftMm - bar.widthMm);
      const dy = Math.max(0, bar.bottomMm - upMm, upMm - bar.bottomMm - bar.heightMm);
      const off = Math.hypot(dx, dy);
      if (off < least || (off === 0 && best === null)) [least, best] = [off, section.id];
    }
  }
  return best;
}

/** The lower edge of each layer, including an incomplete one, mm above the core. */
export function layerEdges(reel: Pick<ReelView, 'layers' | 'shape'>): number[] {
  return Array.from({ length: Math.ceil(reel.layers) + 1 }, (_, k) => k * reel.shape.strandMm);
}
