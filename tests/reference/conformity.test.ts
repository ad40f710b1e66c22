import { describe, expect, it } from 'vitest';
import { normalCdf } from '../../server/probability/distributions.ts';
import { BlobAndNeckTracker } from '../../server/strand/blob-and-neck-tracker.ts';
import { GaugeNoise } from '../../server/strand/gauge-noise.ts';
import type { StrandLimits } from '../../server/strand/strand-limits.ts';
import { RunSections } from '../../server/strand/working-section.ts';
import { scan } from '../strand/scan.ts';
import { USUAL_LIMITS } from '../strand/usual-limits.ts';

/** A stretch of `lengthMm` of this diameter in strand of the nominal one; the last digit alternates, as on a live gauge. */
function conformityOf(diameterMm: number, lengthMm: number, limits: StrandLimits): string {
  const n = 14_000;
  // Long enough to learn that the gauge has no noise.
  const from = 12_000;
  const diameters = Array.from({ length: n }, (_, i) => {
    // Flanks of 4 mm: a gauge that jumps within one reading has shifted.
    const inside = Math.max(0, Math.min(1, (i - from + 5) / 5, (from + lengthMm + 4 - i) / 5));
    return limits.nominalMm + inside * (diameterMm - limits.nominalMm) + (i % 2 === 0 ? 1e-7 : -1e-7);
  });
  const sections = scan(
    { timeMs: diameters.map((_, i) => i * 20), gaugeMm: diameters.map((_, i) => i), diameterMm: diameters },
    limits,
  );
  expect(sections.length).toBeLessThanOrEqual(1);
  return sections[0]?.certainty ?? 'surelyWithin';
}

describe('decision rule', () => {
  it('splits an instrument check into the zones of ILAC-G8', () => {
    // MPE ±0.003 mm, U = 0.0010 mm (talalspecialbolt.com, guide to ILAC-G8 and ISO/IEC 17025 7.8.6; secondary source).
    const limits = { ...USUAL_LIMITS, gaugeUncertaintyMm: 0.001 };
    const blob = (deviation: number) => conformityOf(limits.hotendLimitMm + deviation - 0.003, 20, limits);
    const neck = (deviation: number) => conformityOf(limits.smallestFeedableMm + deviation + 0.003, 20, limits);
    expect(blob(0.0017)).toBe('surelyWithin');
    expect(blob(0.0025)).toBe('inDoubt');
    expect(blob(0.0035)).toBe('inDoubt');
    expect(blob(0.0045)).toBe('sure');
    expect(neck(-0.0017)).toBe('surelyWithin');
    expect(neck(-0.0025)).toBe('inDoubt');
    expect(neck(-0.0045)).toBe('sure');
  });

  it('does not prove 10.03 within 10.00 ± 0.05 at U = 0.04', () => {
    // Arithmetic of a worked example of ISO 14253-1: 10.03 + 0.04 = 10.07 > 10.05.
    const limits = { ...USUAL_LIMITS, nominalMm: 10, toleranceMm: 0.05, hotendLimitMm: 11, smallestFeedableMm: 9 };
    expect(conformityOf(10.03, 500, { ...limits, gaugeUncertaintyMm: 0.04 })).toBe('inDoubt');
    expect(conformityOf(10.03, 500, { ...limits, gaugeUncertaintyMm: 0 })).toBe('surelyWithin');
    expect(conformityOf(10.1, 500, { ...limits, gaugeUncertaintyMm: 0.04 })).toBe('sure');
  });

  it('accepts falsely less often than 2.5 % at the edge of the guard band, and half the time without one', () => {
    // ILAC-G8:09/2019 4.2 (described at https://consultglp.com/tag/decision-rules/): w = U gives < 2.5 % a side.
    const [limitMm, uncertaintyMm] = [1.9, 0.02];
    const largestAccepted = (guardMm: number) => {
      const tracker = new BlobAndNeckTracker('blob', new RunSections(1), new GaugeNoise());
      tracker.setLimit(limitMm, guardMm);
      let [within, beyond] = [1.7, 2.1];
      for (let i = 0; i < 60; i++) {
        const middle = (within + beyond) / 2;
        if (tracker.isBeyond(middle)) beyond = middle;
        else within = middle;
      }
      return within;
    };
    /** Chance that strand at the largest accepted reading is truly beyond the limit; standard uncertainty U/2. */
    const risk = (guardMm: number) => 1 - normalCdf((limitMm - largestAccepted(guardMm)) / (uncertaintyMm / 2));
    expect(risk(uncertaintyMm)).toBeLessThan(0.025);
    expect(risk(uncertaintyMm)).toBeGreaterThan(0.02);
    expect(risk(0)).toBeCloseTo(0.5, 9);
  });

  it('takes a value on the limit for within when the gauge is exact', () => {
    const tracker = new BlobAndNeckTracker('blob', new RunSections(1), new GaugeNoise());
    tracker.setLimit(1.9, 0);
    expect(tracker.isBeyond(1.9)).toBe(false);
    expect(tracker.isBeyond(1.9001)).toBe(true);
  });
});
