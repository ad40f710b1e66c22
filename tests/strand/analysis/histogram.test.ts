import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { type DiameterTally, mergeTallies, tallyDiameters } from '../../../server/strand/statistics/diameter-tally.ts';
import { gaugeSteps } from '../../../server/strand/statistics/gauge-steps.ts';
import { binsFor, histogram } from '../../../server/strand/statistics/histogram.ts';
import { normal, seeded } from '../../chance.ts';
import { tries } from '../../long-check.ts';

const LIMITS = { nominalMm: 1.75, toleranceMm: 0.05 };

/** How gauges send a true diameter. */
const GAUGES: Readonly<Record<string, { stepMm: number; send: (mm: number) => number }>> = {
  '1 µm': { stepMm: 0.001, send: (mm) => Number(mm.toFixed(3)) },
  '5 µm': { stepMm: 0.005, send: (mm) => Number((Math.round(mm / 0.005) * 0.005).toFixed(3)) },
  '2 µm, at odd ones': { stepMm: 0.002, send: (mm) => Number((Math.round(mm / 0.002) * 0.002 + 0.001).toFixed(3)) },
  '0.01 mm': { stepMm: 0.01, send: (mm) => Number(mm.toFixed(2)) },
  '0.1 µm': { stepMm: 0.0001, send: (mm) => Number(mm.toFixed(4)) },
  '0.0001 in': { stepMm: 0.00254, send: (mm) => Number((mm / 25.4).toFixed(4)) * 25.4 },
  '0.0005 in': { stepMm: 0.0127, send: (mm) => Math.round(mm / 0.0127) * 0.0005 * 25.4 },
  'µm counts': { stepMm: 0.001, send: (mm) => Math.round(mm * 1000) / 1000 },
  'µm counts times 0.001': { stepMm: 0.001, send: (mm) => Math.round(mm * 1000) * 0.001 },
  'the mean of two axes of 1 µm': { stepMm: 0.0005, send: (mm) => Math.round(mm * 2000) / 2000 },
};

const wavy = (count: number, seed: number, sdMm = 0.012): number[] => {
  const gauss = normal(seeded(seed));
  return Array.from({ length: count }, () => 1.75 + sdMm * gauss());
};
const even = (values: readonly number[]): DiameterTally =>
  tallyDiameters(
    values,
    values.map(() => 1),
  );
const histogramOf = (tally: DiameterTally, limits = LIMITS) => histogram(tally, binsFor([gaugeSteps(tally)], limits));
const sum = (values: ArrayLike<number>) => Array.from(values).reduce((a, b) => a + b, 0);

describe('a tally of diameters', () => {
  it('adds up the length and the readings of each diameter, thinnest first, also of several tallies', () => {
    const one = tallyDiameters([1.76, 1.75, Number.NaN, 1.76, Number.POSITIVE_INFINITY], [1, 2, 4, 8, 16]);
    const lists = ({ cells, lengthsMm, readings }: DiameterTally) => [[...cells], [...lengthsMm], [...readings]];
    expect(lists(one)).toEqual([
      [175_000, 176_000],
      [2, 9],
      [1, 2],
    ]);
    expect(lists(mergeTallies([one, tallyDiameters([1.74, 1.76], [32, 64])]))).toEqual([
      [174_000, 175_000, 176_000],
      [32, 2, 73],
      [1, 1, 3],
    ]);
  });

  it('is rounded to 0.1 µm where more than ten thousand diameters were read', () => {
    const tallyOf = (count: number) => even(Array.from({ length: count }, (_, i) => 1.7 + i / 100_000));
    expect(tallyOf(10_000).cells.length).toBe(10_000);
    const { cells, readings } = tallyOf(10_001);
    expect([cells.length, cells[0], cells[1], readings[1]]).toEqual([1001, 170_000, 170_010, 10]);
  });
});

describe('the steps of a gauge', () => {
  it.each(Object.entries(GAUGES))('are found from readings of %s', (_, { stepMm, send }) => {
    expect(gaugeSteps(even(wavy(5000, 1).map(send))).step / 100_000).toBeCloseTo(stepMm, 9);
  });

  it('are not made finer by single readings between them', () => {
    const values = wavy(5000, 2).map((mm) => Number(mm.toFixed(2)));
    values[7] = 1.7533;
    values[90] = 1.745;
    expect(gaugeSteps(even(values))).toEqual({ step: 1000, anchor: 175_000, fine: 10 });
  });

  it('are found where the line rounds what the gauge sends: 0.0005 in as mm with three decimals', () => {
    const values = wavy(5000, 3, 0.05).map((mm) => Number((Math.round(mm / 0.0127) * 0.0127).toFixed(3)));
    expect(gaugeSteps(even(values)).step / 100_000).toBeCloseTo(0.0127, 4);
  });

  it('are a micrometre where only one diameter was read, and the finest where any value is read', () => {
    expect(gaugeSteps(even([1.75, 1.75])).step).toBe(100);
    expect(gaugeSteps(even(wavy(5000, 4))).step).toBe(10);
    expect(gaugeSteps(even([])).step).toBe(100);
  });

  it.each<[string, number[], { step: number; anchor: number; fine: number }]>([
    // Steps of 0.15 mm say that few diameters were read: a whole share of them is at most 0.05 mm.
    ['of 0.15 mm, shown by two diameters', [1.6, 1.75, 1.75], { step: 5000, anchor: 175_000, fine: 5000 }],
    ['of 0.05 mm', [1.7, 1.75, 1.75, 1.8], { step: 5000, anchor: 175_000, fine: 5000 }],
    ['of 1 µm', [1.75, 1.752, 1.755, 1.755], { step: 100, anchor: 175_500, fine: 100 }],
    ['of 0.1 µm', [1.75, 1.7502, 1.7505, 1.7505], { step: 10, anchor: 175_050, fine: 10 }],
    ['finer than 0.1 µm', [1.75, 1.75001, 1.75001], { step: 10, anchor: 175_001, fine: 1 }],
  ])('are multiples from the diameter that was read most: %s', (_, values, steps) => {
    expect(gaugeSteps(even(values))).toEqual(steps);
  });

  it('follow from a stray where all other readings are one diameter', () => {
    const mostly = (stray: number) => gaugeSteps(even([...new Array<number>(200).fill(1.75), stray]));
    expect(mostly(1.7612)).toEqual({ step: 1120, anchor: 175_000, fine: 1120 });
    expect(mostly(1.7501)).toEqual({ step: 10, anchor: 175_000, fine: 10 });
    expect(mostly(1.75009)).toEqual({ step: 100, anchor: 175_000, fine: 100 });
  });

  /** Steps that a gauge sends rounded to 1 µm; the first twelve show them. */
  const rounded = (stepMm: number, count: number) =>
    Array.from({ length: count }, (_, i) => Math.round(1000 * (1.7 + i * stepMm)) / 1000);

  it('are told from chance by twelve diameters, if they are three units apart or more', () => {
    expect(gaugeSteps(even(rounded(0.0127, 11))).step).toBe(100);
    expect(gaugeSteps(even(rounded(0.0127, 12))).step / 100_000).toBeCloseTo(0.0127, 4);
    expect(gaugeSteps(even(rounded(0.0025, 40))).step).toBe(100);
    // Such steps would say nothing about the gauge.
    expect(gaugeSteps(even(rounded(0.0813, 12))).step).toBe(100);
    // One reading that fits no such steps.
    const [first, , ...others] = rounded(0.0127, 40);
    expect(gaugeSteps(even([first!, 1.705, ...others])).step).toBe(100);
  });
});

describe('equal bins', () => {
  const LIMIT_CELLS = { low: 160_000, high: 190_000 };
  const gauge = fc
    .record({
      step: fc.constantFrom(10, 100, 200, 500, 1000, 254, 1270),
      parts: fc.constantFrom(1, 2, 5),
      at: fc.integer({ min: -40, max: 40 }),
    })
    .map(({ step, parts, at }) => ({ step, anchor: 175_000 + at * (step / parts), fine: step / parts }));

  it('cover three tolerances on either side and no whole bin more, and no diameter of any gauge is on an edge', () => {
    fc.assert(
      fc.property(fc.array(gauge, { minLength: 1, maxLength: 3 }), (gauges) => {
        const { from, width, count } = binsFor(gauges, LIMITS);
        expect(from).toBeLessThanOrEqual(LIMIT_CELLS.low + 1e-6);
        expect(from + width).toBeGreaterThan(LIMIT_CELLS.low);
        expect(from + count * width).toBeGreaterThanOrEqual(LIMIT_CELLS.high - 1e-6);
        expect(from + (count - 1) * width).toBeLessThan(LIMIT_CELLS.high);
        for (const { anchor, fine } of gauges)
          for (let bin = 0; bin < count; bin++) {
            const past = (from + bin * width - anchor) / fine;
            if (Number.isInteger(fine)) expect(Math.abs(past - Math.round(past)) * fine).toBeGreaterThan(0.4);
          }
      }),
      {
        numRuns: tries(100),
        // The steps of one are not whole, those of the other are.
        examples: [
          [
            [
              { step: 254, anchor: 174_847.6, fine: 50.8 },
              { step: 100, anchor: 175_000, fine: 50 },
            ],
          ],
        ],
      },
    );
  });

  it('hold whole steps of every gauge, where that is at most four times as wide as wanted', () => {
    const width = (...steps: number[]) =>
      binsFor(
        steps.map((step) => ({ step, anchor: 175_000, fine: step })),
        LIMITS,
      ).width;
    // 60 bins in 0.3 mm would be 500 cells wide.
    expect([width(100), width(300), width(600), width(1270)]).toEqual([500, 600, 600, 1270]);
    expect([width(100, 300), width(200, 500), width(300, 500), width(254, 1000)]).toEqual([600, 1000, 1500, 1000]);
    expect(width(400, 700)).toBe(2800);
    expect(width(700, 900)).toBe(900);
  });
});

describe('a histogram of diameters', () => {
  it('has as much strand from 1.750 to 1.754 mm as the readings', () => {
    // 7 mm apart: 5200 readings from 1.750 to 1.754 mm are 36.4 m, and 1000 of 1.755 mm are 7 m.
    const counts = {
      1.748: 700,
      1.749: 900,
      1.75: 1000,
      1.751: 1100,
      1.752: 1100,
      1.753: 1000,
      1.754: 1000,
      1.755: 1000,
    };
    const values = Object.entries(counts).flatMap(([mm, n]) => new Array<number>(n).fill(Number(mm)));
    const { edgesMm, lengthsMm } = histogramOf(tallyDiameters(values, new Float64Array(values.length).fill(7)));
    const bin = edgesMm.findIndex((mm) => mm > 1.75) - 1;
    expect([edgesMm[bin], edgesMm[bin + 1]]).toEqual([1.7495, 1.7545]);
    expect(lengthsMm[bin]! / 1000).toBeCloseTo(36.4, 9);
    expect(lengthsMm[bin + 1]! / 1000).toBeCloseTo(7, 9);
  });

  it('shows no comb: evenly spread diameters fill all bins alike', () => {
    for (const { stepMm, send } of Object.values(GAUGES)) {
      const first = Math.round(1.65 / stepMm);
      const values = Array.from({ length: Math.round(0.2 / stepMm) }, (_, i) => send((first + i) * stepMm));
      const filled = Array.from(histogramOf(even(values)).lengthsMm).filter((mm) => mm > 0);
      // The outermost ones may be filled only in part.
      expect(new Set(filled.slice(1, -1)).size).toBe(1);
    }
  });

  /** Readings all over the range show all steps of a gauge. */
  const shownBy = new Map(Object.values(GAUGES).map(({ send }) => [send, gaugeSteps(even(wavy(3000, 5).map(send)))]));

  it('loses nothing, has no reading on an edge, and the same number of steps in each bin', () => {
    fc.assert(
      fc.property(
        fc.constantFrom(...Object.values(GAUGES)),
        fc.array(fc.double({ min: 1.4, max: 2.2, noNaN: true }), { minLength: 1, maxLength: 300 }),
        fc.integer({ min: 5, max: 200 }),
        ({ stepMm, send }, diameters, toleranceUm) => {
          const values = diameters.map(send);
          const weights = values.map((_, i) => 1 + (i % 3));
          const limits = { nominalMm: 1.75, toleranceMm: toleranceUm / 1000 };
          const { edgesMm, lengthsMm, belowMm, aboveMm } = histogramOf(tallyDiameters(values, weights), limits);
          expect(sum(lengthsMm) + belowMm + aboveMm).toBeCloseTo(sum(weights), 9);
          const [from, to] = [edgesMm[0]!, edgesMm.at(-1)!];
          expect(from).toBeLessThanOrEqual(1.75 - 3 * limits.toleranceMm + 1e-9);
          expect(to).toBeGreaterThanOrEqual(1.75 + 3 * limits.toleranceMm - 1e-9);
          for (const value of values)
            for (const edge of edgesMm) expect(Math.abs(value - edge)).toBeGreaterThan(0.000_004);
          lengthsMm.forEach((mm, i) => {
            const inside = weights.filter((_, k) => values[k]! > edgesMm[i]! && values[k]! < edgesMm[i + 1]!);
            expect(mm).toBeCloseTo(sum(inside), 9);
          });
          const widths = binsFor([shownBy.get(send)!], limits).width / 100_000;
          expect(widths / stepMm).toBeCloseTo(Math.round(widths / stepMm), 6);
        },
      ),
      { numRuns: tries(150) },
    );
  });

  it('counts readings of any value, and leaves out those without one', () => {
    const values = [...wavy(30_000, 6), Number.NaN, 0.7, 3.1];
    const { edgesMm, lengthsMm, belowMm, aboveMm } = histogramOf(even(values));
    expect([belowMm, aboveMm, sum(lengthsMm)]).toEqual([1, 1, 30_000]);
    const width = edgesMm[1]! - edgesMm[0]!;
    expect(width).toBeCloseTo(0.005, 9);
    expect(edgesMm.length).toBeLessThanOrEqual(63);
  });

  it('has edges that suit all gauges where strand from several is compared', () => {
    const fine = even(wavy(5000, 7).map(GAUGES['1 µm']!.send));
    const coarse = even(wavy(5000, 8).map(GAUGES['0.01 mm']!.send));
    const odd = even(wavy(5000, 9).map((mm) => Number((Math.round(mm / 0.004) * 0.004).toFixed(3))));
    const width = (...tallies: DiameterTally[]) => binsFor(tallies.map(gaugeSteps), LIMITS).width;
    expect(width(fine, fine)).toBe(500);
    expect(width(fine, coarse)).toBe(1000);
    expect(width(coarse, odd)).toBe(2000);
    const bins = binsFor([fine, coarse, odd].map(gaugeSteps), LIMITS);
    for (const tally of [fine, coarse, odd, mergeTallies([fine, coarse, odd])]) {
      const { edgesMm, lengthsMm, belowMm, aboveMm } = histogram(tally, bins);
      expect(sum(lengthsMm) + belowMm + aboveMm).toBe(sum(tally.lengthsMm));
      for (const cell of tally.cells)
        for (const edge of edgesMm) expect(Math.abs(cell - edge * 100_000)).toBeGreaterThan(0.4);
    }
  });
});
