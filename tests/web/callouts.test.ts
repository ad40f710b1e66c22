import { describe, expect, it } from 'vitest';
import { arrivalText, calloutLeft, placeCallouts } from '../../web/strand-view/callouts.ts';

describe('callouts of approaching stretches', () => {
  it('never overlap within a lane', () => {
    const items = [0, 40, 90, 300, 420, 800, 1100].map((distanceMm, i) => ({
      id: `m${i}`,
      distanceMm,
      countedDown: i % 3 === 0,
    }));
    const placed = placeCallouts(items, 1, 200, 1200, 3);
    for (const a of placed) {
      for (const b of placed) {
        if (a.id === b.id || a.lane !== b.lane) continue;
        expect(
          Math.abs(calloutLeft(a.distanceMm, 1, 200, 1200) - calloutLeft(b.distanceMm, 1, 200, 1200)),
        ).toBeGreaterThanOrEqual(200);
      }
    }
  });

  it('keep the one that is counted down, nearest to the winder, if there is no room for all', () => {
    const items = [10, 20, 30].map((distanceMm, i) => ({ id: `m${i}`, distanceMm, countedDown: i < 2 }));
    expect(placeCallouts(items, 1, 300, 1000, 1).map((one) => one.id)).toEqual(['m1']);
  });

  it('stay on the plot at its right end', () => {
    expect(calloutLeft(1190, 1, 300, 1200)).toBe(900);
  });

  it('count down to the start of a stretch as the headline does, and report when it is at the winder', () => {
    const coming = { fromGaugeMm: 1000, reachesWinderInS: 13.9 };
    expect(arrivalText(coming, 500, null, false)).toBe('reaches the winder in 14 s');
    const still = { ...coming, reachesWinderInS: null };
    expect(arrivalText(still, 500, null, false)).toBe('on its way');
    expect(arrivalText(still, 1000, null, false)).toBe('is reaching the winder');
    expect(arrivalText(still, 1050, null, true)).toBe('at the winder');
  });

  it('stop counting when the state is old', () => {
    const section = { fromGaugeMm: 1000, reachesWinderInS: 14 };
    expect(arrivalText(section, 500, 28_000, false)).toBe('was here 28 s ago');
    expect(arrivalText(section, 1000, 28_000, true)).toBe('28 s ago');
  });
});
