import { describe, expect, it } from 'vitest';
import {
  againstBand,
  againstUpper,
  conformanceProbability,
  guardBand,
} from '../../server/strand/conformity/decision-rule.ts';

describe('decision rule', () => {
  it('splits an instrument check into the zones of ILAC-G8', () => {
    // MPE ±0.003 mm, U = 0.0010 mm (talalspecialbolt.com, guide to ILAC-G8 and ISO/IEC 17025 7.8.6; secondary source).
    const guard = guardBand(0.001);
    const judge = (deviation: number): string => againstBand(deviation, -0.003, 0.003, guard);
    expect(judge(0.0017)).toBe('surelyWithin');
    expect(judge(0.0025)).toBe('inDoubt');
    expect(judge(0.0035)).toBe('inDoubt');
    expect(judge(0.0045)).toBe('surelyBeyond');
    expect(judge(-0.0017)).toBe('surelyWithin');
    expect(judge(-0.0045)).toBe('surelyBeyond');
  });

  it('does not prove 10.03 within 10.00 ± 0.05 at U = 0.04', () => {
    // Arithmetic of a worked example of ISO 14253-1: 10.03 + 0.04 = 10.07 > 10.05.
    expect(againstBand(10.03, 9.95, 10.05, guardBand(0.04))).toBe('inDoubt');
    expect(againstBand(10.03, 9.95, 10.05, guardBand(0.04, 'simple'))).toBe('surelyWithin');
  });

  it('accepts falsely less often than 2.5 % at the edge of the guard band, and up to half without one', () => {
    // ILAC-G8:09/2019 4.2 (described at https://consultglp.com/tag/decision-rules/): w = U gives < 2.5 % a side.
    const u = 0.02;
    const edge = 1.9 - guardBand(u);
    expect(againstUpper(edge, 1.9, guardBand(u))).toBe('surelyWithin');
    const risk = 1 - conformanceProbability(edge, Number.NEGATIVE_INFINITY, 1.9, u);
    expect(risk).toBeLessThan(0.025);
    expect(risk).toBeGreaterThan(0.02);
    expect(1 - conformanceProbability(1.9, Number.NEGATIVE_INFINITY, 1.9, u)).toBeCloseTo(0.5, 12);
  });

  it('conforms with 95 % at the edge of the default guard band of ISO 14253-1:2017', () => {
    const u = 0.02;
    const edge = 1.9 - guardBand(u, 'oneSided95');
    expect(conformanceProbability(edge, Number.NEGATIVE_INFINITY, 1.9, u)).toBeCloseTo(0.95, 2);
  });

  it('takes a value on the limit for within when the gauge is exact', () => {
    expect(againstUpper(1.9, 1.9, 0)).toBe('surelyWithin');
    expect(againstUpper(1.9001, 1.9, 0)).toBe('surelyBeyond');
  });
});
