import { describe, expect, it } from 'vitest';
import { WinderTurns, type WindingStart } from '../../server/strand/winder-turns.ts';

/** Strand at 20 mm/s and 50 readings a second: one reading every 0.4 mm. */
const PITCH_MM = 0.4;

/** @param count what the counter shows once this much strand has passed; NaN = not sent */
function passed(lengthMm: number, count: (gaugeMm: number) => number) {
  const turns = new WinderTurns();
  const starts: WindingStart[] = [];
  let foundAtMm: number | null = null;
  for (let gaugeMm = 0; gaugeMm <= lengthMm; gaugeMm += PITCH_MM) {
    if (turns.step(gaugeMm * 50, gaugeMm, count(gaugeMm), false)) foundAtMm ??= gaugeMm;
    if (turns.windingStart !== null) starts.push(turns.windingStart);
  }
  return { starts, foundAtMm };
}

/** Turns of a winder that starts at `fromMm`, with the counter already `part` of a turn along. */
const winder =
  (fromMm: number, turnMm: number, part = 0) =>
  (gaugeMm: number) =>
    Math.max(0, gaugeMm - fromMm) / turnMm + part;

describe("the winder's turns", () => {
  it.each([0, 0.3, 0.6, 0.95])(
    'show where winding starts to within half a turn, with the counter %d of a turn along',
    (part) => {
      const turnMm = Math.PI * 81.75;
      const turn = winder(7000, turnMm, part);
      const { starts } = passed(40_000, (mm) => 12 + Math.floor(turn(mm)));
      expect(starts).toHaveLength(1);
      expect(Math.abs(starts[0]!.gaugeMm - 7000)).toBeLessThanOrEqual(turnMm / 2 + PITCH_MM);
      expect(starts[0]!.timeMs).toBeCloseTo(starts[0]!.gaugeMm * 50, -2);
    },
  );

  it('show it to within half a step where the counter counts parts of turns', () => {
    const turn = winder(7000, 257);
    const { starts } = passed(40_000, (mm) => Math.floor(turn(mm) * 20) / 20);
    expect(starts).toHaveLength(1);
    expect(Math.abs(starts[0]!.gaugeMm - 7000)).toBeLessThanOrEqual(257 / 40 + PITCH_MM);
  });

  it('show no start for a winder that was already turning, but that it turns', () => {
    const { starts, foundAtMm } = passed(20_000, (mm) => Math.floor(mm / 257) + 40);
    expect(starts).toEqual([]);
    expect(foundAtMm).toBeCloseTo(3 * 257, 0);
  });

  it('show a new start when the counter restarts, even without a pause', () => {
    const { starts } = passed(30_000, (mm) => Math.floor((mm < 20_000 ? mm : mm - 20_000) / 257));
    expect(starts.map(({ gaugeMm }) => Math.round(gaugeMm / 1000))).toEqual([20]);
  });

  it('ignore a garbled count, and a winder turned by hand for a moment', () => {
    const turn = winder(7000, 257);
    const garbled = passed(20_000, (mm) => {
      if (Math.abs(mm - 3000) < 0.3) return 9123;
      // Threading: two turns by hand while little strand passes.
      return (mm > 2000 ? 2 : mm > 1990 ? 1 : 0) + Math.floor(turn(mm));
    });
    expect(garbled.starts).toHaveLength(1);
    expect(Math.abs(garbled.starts[0]!.gaugeMm - 7000)).toBeLessThanOrEqual(257 / 2 + PITCH_MM);
  });

  it('show nothing where they are not sent', () => {
    expect(passed(20_000, () => Number.NaN)).toEqual({ starts: [], foundAtMm: null });
  });
});
