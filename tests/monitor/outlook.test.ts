import { expect, it } from 'vitest';
import { stretchesToCutOut } from '../../server/monitor/line/outlook.ts';

const outlook = (
  capacityMm: number | null,
  ...places: readonly (readonly [fromSpoolMm: number, toSpoolMm: number])[]
) => ({
  blobsMs: [],
  capacityMm,
  wantedMm: null,
  cutOut: places.map(([fromSpoolMm, toSpoolMm]) => ({ fromSpoolMm, toSpoolMm, fromMs: 0 })),
});

it('joins stretches to cut out that a picture of the whole spool cannot show apart', () => {
  // 400 m: a metre is 1/400 of it.
  const near = outlook(400_000, [10_000, 10_020], [10_900, 10_950], [11_100, 11_130], [13_000, 13_010]);
  expect(stretchesToCutOut(near)).toEqual([
    { fromMm: 10_000, toMm: 11_130 },
    { fromMm: 13_000, toMm: 13_010 },
  ]);
  // One within another does not end it early.
  expect(stretchesToCutOut(outlook(400_000, [5000, 9000], [6000, 6010]))).toEqual([{ fromMm: 5000, toMm: 9000 }]);
});

it('keeps at most as many as the picture has room for, however many blobs there are', () => {
  const blobs = Array.from({ length: 5000 }, (_, i) => [i * 80, i * 80 + 10] as const);
  expect(stretchesToCutOut(outlook(400_000, ...blobs)).length).toBeLessThanOrEqual(400);
  expect(stretchesToCutOut(outlook(null, [0, 10], [20, 30]))).toHaveLength(2);
});
