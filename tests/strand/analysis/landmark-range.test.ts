import fc from 'fast-check';
import { expect, it } from 'vitest';
import {
  type Landmark,
  landmarksSeenBetween,
  mapSpool,
  rangeSeenBetween,
  type SpoolMap,
} from '../../../server/strand/plan/spool-map.ts';
import { WHOLE_SPOOL } from './whole-spool.ts';

const WOUND_MM = 20_000;

/** Marked stretches have no peak, so they are seen over all of their length. */
function mapOf(stretches: readonly { atMm: number; lengthMm: number }[]): SpoolMap {
  return mapSpool({
    ...WHOLE_SPOOL,
    woundMm: WOUND_MM,
    stretches: stretches.map(({ atMm, lengthMm }) => ({
      fromMm: atMm,
      toMm: atMm + lengthMm,
      fate: 'discard',
      kind: 'marked',
      peakAtMm: null,
    })),
  });
}

it('is that of all landmarks seen between two positions', () => {
  const stretch = fc.record({ atMm: fc.integer({ min: 0, max: 3000 }), lengthMm: fc.integer({ min: 1, max: 499 }) });
  const position = fc.integer({ min: WOUND_MM - 4000, max: WOUND_MM });
  fc.assert(
    fc.property(
      fc.array(stretch, { maxLength: 40 }),
      position,
      fc.integer({ min: 0, max: 2000 }),
      (drawn, fromMm, mm) => {
        const map = mapOf(drawn);
        const seen = landmarksSeenBetween(map, fromMm, fromMm + mm);
        const all =
          seen.length === 0
            ? null
            : {
                leastMm: Math.min(...seen.map(({ peakAtOuterMm, spreadMm }) => peakAtOuterMm - spreadMm)),
                mostMm: Math.max(...seen.map(({ peakAtOuterMm, spreadMm }) => peakAtOuterMm + spreadMm)),
              };
        expect(rangeSeenBetween(map, fromMm, fromMm + mm)).toStrictEqual(all);
      },
    ),
    { numRuns: 300 },
  );
});

it('is found without looking at each of thousands in between', () => {
  const map = mapOf(Array.from({ length: 9000 }, (_, i) => ({ atMm: 2 * i, lengthMm: 1 })));
  let looked = 0;
  const counting = new Proxy(map.landmarks, {
    get(target, key) {
      if (typeof key === 'string' && /^\d+$/.test(key)) looked++;
      return Reflect.get(target, key) as Landmark;
    },
  });
  expect(rangeSeenBetween({ ...map, landmarks: counting }, 0, WOUND_MM)).toStrictEqual(
    rangeSeenBetween(map, 0, WOUND_MM),
  );
  // Those within 500 mm of either end are 250 each.
  expect(looked).toBeLessThan(1000);
});
