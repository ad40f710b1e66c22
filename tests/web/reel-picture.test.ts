import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { ReelView } from '../../server/api/contract/spool-analysis.ts';
import { lengthOfLayers, placeOnReel, roughPlace } from '../../server/strand/reel/reel-place.ts';
import { turnsPerLayer } from '../../server/strand/reel/reel-shape.ts';
import {
  arcPath,
  arcsOf,
  barsOf,
  layerEdges,
  layersText,
  placeIn,
  placeText,
  sectionAtBar,
  sectionAtRing,
  widened,
} from '../../web/judgement/reel-picture.ts';

const SHAPE = { coreDiameterMm: 80, flangeDiameterMm: 200, widthMm: 54, pitchMm: 1.8, strandMm: 1.75 };
const PER_LAYER = turnsPerLayer(SHAPE);
const CAPACITY_MM = lengthOfLayers(SHAPE, SHAPE.strandMm, 34);

function place(mm: number): ReelView['sections'][number]['from'] {
  const rough = { layerLeast: 1, layerMost: 34, radiusShare: 0.5 };
  return { positionMm: mm, ...placeOnReel(SHAPE, SHAPE.strandMm, mm), ...rough };
}

function section(id: string, fromMm: number, toMm: number): ReelView['sections'][number] {
  const [from, to] = [place(fromMm), place(toMm)];
  return {
    id,
    kind: 'blob',
    verdict: 'discard',
    from,
    to,
    path: [{ acrossMm: from.acrossMm, radiusMm: from.radiusMm, toAcrossMm: to.acrossMm }],
  };
}

describe('the spool from the side', () => {
  it('draws less than a turn to scale: length = angle × radius', () => {
    // A quarter of the first turn: π(core + strand)/4.
    const quarter = (Math.PI * (SHAPE.coreDiameterMm + SHAPE.strandMm)) / 4;
    const [arc, ...more] = arcsOf(place(0), place(quarter), PER_LAYER, SHAPE.strandMm);
    expect(more).toEqual([]);
    expect(arc!.fromTurn).toBeCloseTo(0, 9);
    expect(arc!.toTurn).toBeCloseTo(0.25, 9);
    expect(arc!.radiusMm).toBeCloseTo((SHAPE.coreDiameterMm + SHAPE.strandMm) / 2, 9);
  });

  it('keeps the length of every stretch shorter than a turn, in any place', () => {
    fc.assert(
      fc.property(
        fc.double({ min: 0, max: CAPACITY_MM - 300, noNaN: true }),
        fc.double({ min: 1, max: 200, noNaN: true }),
        (fromMm, longMm) => {
          const arcs = arcsOf(place(fromMm), place(fromMm + longMm), PER_LAYER, SHAPE.strandMm);
          const drawn = arcs.reduce((sum, arc) => sum + (arc.toTurn - arc.fromTurn) * 2 * Math.PI * arc.radiusMm, 0);
          expect(drawn).toBeCloseTo(longMm, 3);
        },
      ),
    );
  });

  it('draws a ring for each layer that a long stretch fills', () => {
    const arcs = arcsOf(place(0), place(lengthOfLayers(SHAPE, SHAPE.strandMm, 3) - 1), PER_LAYER, SHAPE.strandMm);
    expect(arcs.length).toBe(3);
    for (const arc of arcs) expect([arc.fromTurn, arc.toTurn]).toEqual([0, 1]);
    expect(arcs[2]!.radiusMm - arcs[0]!.radiusMm).toBeCloseTo(2 * SHAPE.strandMm, 9);
  });

  it('widens a tiny stretch about its middle so that it can be seen', () => {
    const wide = widened({ radiusMm: 50, fromTurn: 0.5, toTurn: 0.5 }, 10);
    expect((wide.toTurn - wide.fromTurn) * 2 * Math.PI * 50).toBeCloseTo(10, 9);
    expect((wide.fromTurn + wide.toTurn) / 2).toBeCloseTo(0.5, 9);
    const long = { radiusMm: 50, fromTurn: 0.1, toTurn: 0.6 };
    expect(widened(long, 10)).toBe(long);
  });

  it('goes clockwise from the top, as SVG arcs', () => {
    expect(arcPath({ radiusMm: 10, fromTurn: 0, toTurn: 0.25 }, 100, 100, 2)).toBe(
      'M100.00 80.00A20.00 20.00 0 0 1 120.00 100.00',
    );
    expect(arcPath({ radiusMm: 10, fromTurn: 0, toTurn: 0.75 }, 100, 100, 2)).toContain(' 0 1 1 ');
    expect(arcPath({ radiusMm: 10, fromTurn: 0, toTurn: 1 }, 100, 100, 2).match(/A/g)).toHaveLength(2);
  });

  it('finds the section under a press, and none far away from all', () => {
    const reel = {
      sections: [section('inner', 400, 420), section('outer', 200_000, 200_030)],
      turnsPerLayer: PER_LAYER,
      shape: SHAPE,
    };
    for (const one of reel.sections) {
      const angle = (one.from.turns % 1) * 2 * Math.PI;
      const [x, y] = [one.from.radiusMm * Math.sin(angle), -one.from.radiusMm * Math.cos(angle)];
      expect(sectionAtRing(reel, x, y)).toBe(one.id);
    }
    expect(sectionAtRing(reel, 0, 0)).toBeNull();
    expect(sectionAtRing({ ...reel, sections: [] }, 41, 0)).toBeNull();
  });
});

describe('the pointer on the spool', () => {
  it("follows the winder's turn counter, or the length without one", () => {
    const turnsAlong = { positionMm: [0, 10_000, 20_000], turns: [0, 30, 60] };
    // 30 turns of 1.8 mm fill 54 mm.
    expect(placeIn({ shape: SHAPE, turnsAlong }, 15_000)).toMatchObject({ layer: 2, turnInLayer: 16, turns: 45 });
    expect(placeIn({ shape: SHAPE, turnsAlong }, 1e6).turns).toBe(60);
    expect(placeIn({ shape: SHAPE, turnsAlong: null }, 15_000)).toEqual(placeOnReel(SHAPE, 1.75, 15_000));
  });

  it('names layer and turn only if turns were counted, else the layers in which it can be', () => {
    const reel = {
      shape: SHAPE,
      turnsPerLayer: 30,
      woundMm: 330_000,
      lengthScale: { factor: 1, share: 0.02, measured: null },
    };
    const counted = { ...reel, turnsAlong: { positionMm: [0, 10_000, 20_000], turns: [0, 30, 60] } };
    expect(placeText(counted, placeIn(counted, 15_000), 15_000)).toBe('layer 2, turn 16 of 30');
    const rough = { ...reel, turnsAlong: null };
    const { layerLeast, layerMost } = roughPlace(SHAPE, 1.75, 165_000, 330_000, 0.02);
    expect(layerMost - layerLeast).toBeGreaterThan(1);
    expect(placeText(rough, placeIn(rough, 165_000), 165_000)).toBe(
      `layer ${layerLeast} to ${layerMost}, 59\u202f% of the way from core to outside`,
    );
    expect(layersText(3, 3)).toBe('3');
  });
});

describe('the spool cut through its axis', () => {
  it('draws a turn as wide as the pitch and as high as the strand, on the core', () => {
    const [bar] = barsOf(section('a', 10, 20).path, SHAPE);
    expect(bar).toEqual({ leftMm: 0, widthMm: 1.8, bottomMm: 0, heightMm: 1.75 });
  });

  it('keeps every bar between the flanges', () => {
    fc.assert(
      fc.property(fc.double({ min: 0, max: CAPACITY_MM - 1, noNaN: true }), (mm) => {
        const [bar] = barsOf(section('a', mm, mm).path, SHAPE);
        expect(bar!.leftMm).toBeGreaterThanOrEqual(0);
        expect(bar!.leftMm + bar!.widthMm).toBeLessThanOrEqual(SHAPE.widthMm + 1e-9);
        expect(bar!.bottomMm + bar!.heightMm).toBeLessThanOrEqual((SHAPE.flangeDiameterMm - SHAPE.coreDiameterMm) / 2);
      }),
    );
  });

  it('finds the section under a press', () => {
    const reel = { sections: [section('a', 10, 20), section('b', 100_000, 100_020)], shape: SHAPE };
    expect(sectionAtBar(reel, 0.5, 0.5, 1)).toBe('a');
    const [bar] = barsOf(reel.sections[1]!.path, SHAPE);
    expect(sectionAtBar(reel, bar!.leftMm + 0.5, bar!.bottomMm + 0.5, 1)).toBe('b');
    expect(sectionAtBar(reel, 40, 55, 1)).toBeNull();
  });

  it('has an edge below every layer, also an incomplete one, and one above the last', () => {
    expect(layerEdges({ layers: 2, shape: SHAPE })).toEqual([0, 1.75, 3.5]);
  });
});
