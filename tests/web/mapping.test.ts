import { linearRegression } from 'simple-statistics';
import { describe, expect, it } from 'vitest';
import { ROLES } from '../../server/reading/names.ts';
import { calibrate } from '../../web/set-up/pin-gauges.ts';
import { rangeText, rawText, roleGroups, roleName, valueText } from '../../web/set-up/role-text.ts';

describe('pin gauges', () => {
  it('of two diameters give the straight line through both, as the least-squares fit of a reference library', () => {
    const pins = [
      { knownMm: 1.5, shown: 1512 },
      { knownMm: 2, shown: 2008 },
    ];
    const found = calibrate(pins, 1)!;
    const { m, b } = linearRegression(pins.map(({ shown, knownMm }) => [shown, knownMm]));
    expect(found.factor).toBeCloseTo(m, 12);
    expect(found.offset).toBeCloseTo(b, 9);
    for (const { knownMm, shown } of pins) expect(shown * found.factor + found.offset).toBeCloseTo(knownMm, 12);
    expect(found.warning).toBeNull();
  });

  it('of one diameter set only the offset, with a caution', () => {
    const found = calibrate([{ knownMm: 1.75, shown: 1762 }], 0.001)!;
    expect(found.factor).toBe(0.001);
    expect(found.offset).toBeCloseTo(-0.012, 12);
    expect(found.warning).toMatch(/^One pin sets the offset only/);
  });

  it('cause a caution if too close together, mixed up or alike', () => {
    const at = (a: number, b: number, shownA: number, shownB: number) =>
      calibrate(
        [
          { knownMm: a, shown: shownA },
          { knownMm: b, shown: shownB },
        ],
        1,
      );
    expect(at(1.7, 1.75, 1700, 1750)!.warning).toMatch(/^The pins are only 0\.05 mm apart: .* by up to 20 %\./);
    expect(at(1.5, 2, 2000, 1500)!.warning).toMatch(/mixed up/);
    expect(at(1.5, 2, 1700, 1700)).toBeNull();
    expect(at(1.5, 1.5, 1700, 1710)).toBeNull();
    expect(calibrate([], 1)).toBeNull();
  });
});

describe('roles in words', () => {
  it('offers every role of the contract once, by subject, with as many zones as asked for', () => {
    const all = roleGroups(8).flatMap(([, roles]) => roles);
    expect([...all].sort()).toEqual([...ROLES].sort());
    expect(roleGroups(2).flatMap(([, roles]) => roles)).not.toContain('t3');
    expect(new Set(all.map(roleName)).size).toBe(ROLES.length);
    expect(roleName('t1')).toBe('temperature of zone 1');
    expect(roleName('turns')).toBe('winder turns');
    expect(roleName('ta')).toBe('room temperature');
  });

  it('writes values in the unit of their role, and raw values as the sketch prints them', () => {
    expect(valueText('dx', 1.7634)).toBe('1.763 mm');
    expect(valueText('t8', 184.44)).toBe('184.4 °C');
    expect(valueText('p1', 0.522).replace('\u202f', ' ')).toBe('52 %');
    expect(valueText('turns', 12)).toBe('12');
    expect(valueText('rpm', 12.5)).toBe('12.5 1/min');
    expect(rawText(1763)).toBe('1763');
    expect(rawText(null)).toBe('–');
    expect(rangeText(1.74, 1.764)).toBe('1.74–1.764');
    expect(rangeText(185, 185)).toBe('');
    expect(rangeText(null, null)).toBe('');
  });
});
