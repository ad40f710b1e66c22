import { describe, expect, it } from 'vitest';
import { outline } from '../../web/strand-view/band-painter.ts';
import { pictureFrame } from '../../web/strand-view/picture-frame.ts';

describe('the outline of the strand', () => {
  const frame = pictureFrame(1000, 600, null);
  const drawn = (mm: readonly number[], strandPresentMm: number) => {
    const limits = {
      nominalMm: 1.75,
      toleranceMm: 0.05,
      hotendLimitMm: 1.9,
      smallestFeedableMm: 1.6,
      strandPresentMm,
      gaugeToWinderMm: 1000,
      absoluteLimitC: 300,
    };
    const trace = { x: mm.map((_, i) => i / 1000), min: [...mm], max: [...mm], mean: [...mm] };
    return outline(trace, { frame, limits, spanMm: 1000 }).map(({ x }) => x.length);
  };

  it('is broken only below the diameter that counts as strand', () => {
    const thinFor2 = [1.75, 1.75, 0.8, 0.8, 1.75];
    expect(drawn(thinFor2, 0.5)).toEqual([5]);
    expect(drawn(thinFor2, 1)).toEqual([2, 1]);
    expect(drawn([1.75, 0.4, 0.4, 1.75], 0.3)).toEqual([4]);
  });
});
