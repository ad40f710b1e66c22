import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { emptyTrace, StrandBins } from '../../server/strand/strand-bins.ts';

describe('the bins of the live strand', () => {
  it('give the newest strand first, at its distance from the gauge', () => {
    const bins = new StrandBins(1, 100);
    for (let g = 0; g <= 10; g += 1) bins.add(g + 0.5, 1.7 + g / 1000);
    const trace = bins.trace(11, 5, 3, emptyTrace());
    expect(trace.x).toEqual([0.0005, 0.0015, 0.0025, 0.0035, 0.0045]);
    expect(trace.mean[0]).toBeCloseTo(1.71, 9);
    expect(trace.mean[4]).toBeCloseTo(1.706, 9);
  });

  it('lose no peak, however many readings fall into one bin', () => {
    fc.assert(
      fc.property(
        fc.array(fc.double({ min: 0.5, max: 3, noNaN: true }), { minLength: 1, maxLength: 400 }),
        (values) => {
          const bins = new StrandBins(5, 50);
          values.forEach((v, i) => {
            bins.add(i * 0.5, v);
          });
          const trace = bins.trace(values.length * 0.5, 1e6, 1e9, emptyTrace());
          expect(Math.max(...trace.max.map((v) => v ?? 0))).toBe(Math.max(...values));
          expect(Math.min(...trace.min.map((v) => v ?? 9))).toBe(Math.min(...values));
        },
      ),
    );
  });

  it('keep only what fits, and never show what was overwritten', () => {
    const bins = new StrandBins(1, 10);
    for (let g = 0; g < 1000; g += 1) bins.add(g + 0.5, g);
    const trace = bins.trace(1000, 1e6, 1e9, emptyTrace());
    expect(trace.mean).toEqual([999, 998, 997, 996, 995, 994, 993, 992, 991, 990]);
  });

  it('drop everything older when the strand jumps by more than they hold', () => {
    const bins = new StrandBins(1, 10);
    for (let g = 0; g < 10; g += 1) bins.add(g + 0.5, 1.75);
    bins.add(500.5, 1.8);
    expect(bins.trace(501, 1e6, 1e9, emptyTrace()).mean).toEqual([1.8]);
  });

  it('show a gap as null where nothing was measured for longer than the gap length, and bridge a shorter one', () => {
    const bins = new StrandBins(1, 100);
    for (const g of [0.5, 1.5, 2.5, 5.5, 20.5]) bins.add(g, 1.75);
    const trace = bins.trace(21, 1e6, 4, emptyTrace());
    expect(trace.mean).toEqual([1.75, null, 1.75, 1.75, 1.75, 1.75]);
    expect(trace.x).toEqual([...trace.x].sort((a, b) => a - b));
  });

  it('ignore a reading without a diameter', () => {
    const bins = new StrandBins(1, 100);
    bins.add(3, null);
    expect(bins.trace(4, 10, 1, emptyTrace()).x).toEqual([]);
  });

  it('join stored and live readings: extremes stay true, the mean is weighted', () => {
    const bins = new StrandBins(10, 10);
    bins.add(5, 2);
    bins.addColumn(5, 1.6, 1.8, 1.7, 3);
    const trace = bins.trace(10, 100, 1e9, emptyTrace());
    expect([trace.min[0], trace.max[0]]).toEqual([1.6, 2]);
    expect(trace.mean[0]).toBeCloseTo((2 + 3 * 1.7) / 4, 12);
  });

  it('show nothing beyond the requested span or ahead of the head', () => {
    const bins = new StrandBins(1, 1000);
    for (let g = 0; g < 200; g += 1) bins.add(g + 0.5, 1.75);
    const trace = bins.trace(150, 20, 1e9, emptyTrace());
    expect(Math.max(...trace.x)).toBeLessThanOrEqual(0.0205);
    expect(Math.min(...trace.x)).toBeGreaterThanOrEqual(0);
  });

  it('take over the values of other bins of the same strand, whatever their width', () => {
    const old = new StrandBins(1, 100);
    for (let g = 0; g < 60; g += 1) old.add(g + 0.5, g === 30 ? 2.4 : 1.75);
    const bins = new StrandBins(4, 40);
    bins.join(old);
    bins.join(new StrandBins(2, 10));
    const trace = bins.trace(60, 1e6, 1e9, emptyTrace());
    expect(trace.x).toHaveLength(15);
    expect(Math.max(...trace.max.map(Number))).toBe(2.4);
    expect(trace.mean[0]).toBeCloseTo(1.75, 12);
  });
});
