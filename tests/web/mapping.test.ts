import { linearRegression } from 'simple-statistics';
import { describe, expect, it } from 'vitest';
import { ROLES } from '../../server/reading/names.ts';
import { calibrate } from '../../web/set-up/pin-gauges.ts';
import { guessedMapping, ROLE_CHOICES } from '../../web/set-up/role-text.ts';

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
    expect(at(1.7, 1.75, 1700, 1750)!.warning).toMatch(/^The pins lie only 0\.05 mm apart: .* by up to 20 %\./);
    expect(at(1.5, 2, 2000, 1500)!.warning).toMatch(/mixed up/);
    expect(at(1.5, 2, 1700, 1700)).toBeNull();
    expect(at(1.5, 1.5, 1700, 1710)).toBeNull();
    expect(calibrate([], 1)).toBeNull();
  });
});

describe('the mapping of names', () => {
  it('names every role with its unit', () => {
    expect(ROLE_CHOICES.map(([role]) => role).sort()).toEqual([...ROLES].sort());
    expect(ROLE_CHOICES[0]).toEqual(['d', 'd – diameter, mm']);
    const text = new Map(ROLE_CHOICES);
    expect(text.get('t1')).toBe('t1 – temperature of zone 1, °C');
    expect(text.get('turns')).toBe('turns – winder turns');
    expect(text.get('ta')).toBe('ta – room temperature, °C');
    for (const [role, said] of ROLE_CHOICES) expect(said.length).toBeGreaterThan(role.length + 3);
  });

  it('suggests roles for common names, none of them twice', () => {
    expect(guessedMapping('Dia_um', 1748, [])).toEqual({ name: 'Dia_um', role: 'd', factor: 0.001, offset: 0 });
    expect(guessedMapping('Dia', 1.748, [])).toMatchObject({ role: 'd', factor: 1 });
    expect(guessedMapping('Temp', 200, ['d'])).toMatchObject({ role: 't1', factor: 1 });
    expect(guessedMapping('Target', 200, ['d', 't1'])).toMatchObject({ role: 's1' });
    expect(guessedMapping('Temp_die', 210, ['t1'])).toMatchObject({ role: 't2' });
  });
});
