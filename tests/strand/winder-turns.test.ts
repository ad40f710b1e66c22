import { describe, expect, it } from 'vitest';
import { WinderTurns, type WindingBegin } from '../../server/strand/winder-turns.ts';

/** Strand at 20 mm/s and 50 readings a second: one reading every 0.4 mm. */
const PITCH_MM = 0.4;

/** @param count what the counter shows when so much strand has passed; NaN = it is not sent */
function passed(lengthMm: number, count: (gaugeMm: number) => number) {
  const turns = new WinderTurns();
  const began: WindingBegin[] = [];
  let foundAtMm: number | null = null;
  for (let gaugeMm = 0; gaugeMm <= lengthMm; gaugeMm += PITCH_MM) {
    if (turns.step(gaugeMm * 50, gaugeMm, count(gaugeMm))) foundAtMm ??= gaugeMm;
    if (turns.began !== null) began.push(turns.began);
  }
  return { began, foundAtMm };
}

/** Turns of a winder that takes up strand from one place on, `part` of a turn on its way. */
const winder =
  (fromMm: number, turnMm: number, part = 0) =>
  (gaugeMm: number) =>
    Math.max(0, gaugeMm - fromMm) / turnMm + part;

describe("the winder's turns", () => {
  it.each([0, 0.3, 0.6, 0.95])(
    'tell where winding began to within half a turn, the counter %d of a turn on its way',
    (part) => {
      const turnMm = Math.PI * 81.75;
      const turn = winder(7000, turnMm, part);
      const { began } = passed(40_000, (mm) => 12 + Math.floor(turn(mm)));
      expect(began).toHaveLength(1);
      expect(Math.abs(began[0]!.gaugeMm - 7000)).toBeLessThanOrEqual(turnMm / 2 + PITCH_MM);
      expect(began[0]!.timeMs).toBeCloseTo(began[0]!.gaugeMm * 50, -2);
    },
  );

  it('tell it to within half a step where the counter counts parts of turns', () => {
    const turn = winder(7000, 257);
    const { began } = passed(40_000, (mm) => Math.floor(turn(mm) * 20) / 20);
    expect(began).toHaveLength(1);
    expect(Math.abs(began[0]!.gaugeMm - 7000)).toBeLessThanOrEqual(257 / 40 + PITCH_MM);
  });

  it('tell no beginning where the winder turned before anybody listened, but that it turns', () => {
    const { began, foundAtMm } = passed(20_000, (mm) => Math.floor(mm / 257) + 40);
    expect(began).toEqual([]);
    expect(foundAtMm).toBeCloseTo(3 * 257, 0);
  });

  it('begin anew with an empty spool, also where the counter did not rest', () => {
    const { began } = passed(30_000, (mm) => Math.floor((mm < 20_000 ? mm : mm - 20_000) / 257));
    expect(began.map(({ gaugeMm }) => Math.round(gaugeMm / 1000))).toEqual([20]);
  });

  it('are not told by a count that was garbled, nor by a winder that is turned by hand for a moment', () => {
    const turn = winder(7000, 257);
    const garbled = passed(20_000, (mm) => {
      if (Math.abs(mm - 3000) < 0.3) return 9123;
      // Threading: two turns by hand while little strand comes.
      return (mm > 2000 ? 2 : mm > 1990 ? 1 : 0) + Math.floor(turn(mm));
    });
    expect(garbled.began).toHaveLength(1);
    expect(Math.abs(garbled.began[0]!.gaugeMm - 7000)).toBeLessThanOrEqual(257 / 2 + PITCH_MM);
  });

  it('say nothing where they are not sent', () => {
    expect(passed(20_000, () => Number.NaN)).toEqual({ began: [], foundAtMm: null });
  });
});
