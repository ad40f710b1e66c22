import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { proposedCutOutMm } from '../../server/strand/cut-out.ts';
import { cutOutsOf } from '../../server/strand/effective-sections.ts';
import { gaugeLengthMm, isCutOut, spoolPositionMm, withoutCutOuts } from '../../server/strand/position.ts';
import type { StatedSection } from '../../server/strand/section.ts';
import { tries } from '../long-check.ts';

const cutOut = (id: number, fromMm: number, toMm: number): StatedSection => ({
  id,
  measuredOrdinal: null,
  fromMm,
  toMm,
  verdict: 'good',
  note: '',
  removed: false,
  atTimeMs: 0,
  about: null,
  decision: 'cutOut',
});

/** Any start and factor, and a strand whose cut-outs may touch, overlap, or reach beyond the start of the spool. */
const strands = fc.record({
  startGaugeMm: fc.integer({ min: -50, max: 50 }),
  factor: fc.constantFrom(0.98, 1, 1.031),
  cuts: fc.array(fc.tuple(fc.integer({ min: -80, max: 300 }), fc.integer({ min: 1, max: 60 })), { maxLength: 6 }),
});

describe('places on a spool from which strand was cut out', () => {
  it('agree with winding millimetre by millimetre what was not cut out', () => {
    fc.assert(
      fc.property(strands, ({ startGaugeMm, factor, cuts }) => {
        const cutOuts = cutOutsOf(cuts.map(([fromMm, lengthMm], i) => cutOut(i + 1, fromMm, fromMm + lengthMm)));
        const strand = { startGaugeMm, lengthFactor: factor, cutOuts };
        // What the winder does: each millimetre goes on the spool, or into the bin.
        const isGone = (mm: number) => cuts.some(([fromMm, lengthMm]) => mm >= fromMm && mm < fromMm + lengthMm);
        let wound = 0;
        for (let mm = startGaugeMm; mm < 400; mm++) {
          expect(spoolPositionMm(mm, strand)).toBeCloseTo(wound * factor, 9);
          if (isGone(mm)) {
            expect(isCutOut(mm + 0.5, cutOuts)).toBe(true);
            continue;
          }
          expect(isCutOut(mm + 0.5, cutOuts)).toBe(false);
          expect(gaugeLengthMm((wound + 0.5) * factor, strand)).toBeCloseTo(mm + 0.5, 9);
          wound += 1;
        }
        const left = withoutCutOuts(startGaugeMm, 400, cutOuts);
        expect(left.reduce((sum, { fromMm, toMm }) => sum + toMm - fromMm, 0)).toBe(wound);
      }),
      { seed: 17, numRuns: tries(20) },
    );
  });

  it('are as before once a cut is undone', () => {
    expect(cutOutsOf([{ ...cutOut(1, 10, 20), removed: true }, cutOut(2, 30, 40)])).toEqual([{ fromMm: 30, toMm: 40 }]);
  });

  it('propose to cut out a section with its margins, in round numbers', () => {
    expect(proposedCutOutMm({ fromMm: 1000, toMm: 1012.4 })).toBe(120);
    expect(proposedCutOutMm({ fromMm: 0, toMm: 1e6 })).toBe(20_000);
  });
});
