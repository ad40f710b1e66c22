import { linearRegression } from 'simple-statistics';
import { describe, expect, it } from 'vitest';
import { ROLES } from '../../server/reading/names.ts';
import { type Calibration, calibrate, type PinReading } from '../../web/set-up/pin-gauges.ts';
import { rangeText, rawText, roleGroups, roleName, valueText } from '../../web/set-up/role-text.ts';
import { normal, seeded } from '../chance.ts';

describe('pin gauges', () => {
  const pin = (knownMm: number, ...shown: number[]) => ({ knownMm, shown });
  const found = (pins: readonly PinReading[], factorNow = 1, pinErrorMm?: number): Calibration => {
    const result = calibrate(pins, factorNow, pinErrorMm);
    if ('fault' in result) throw new Error(result.fault);
    return result;
  };
  const faultOf = (pins: readonly PinReading[], factorNow = 1) => {
    const result = calibrate(pins, factorNow);
    return 'fault' in result ? result.fault : null;
  };

  it('of two diameters give the straight line through both, and ask for a third to tell the uncertainty', () => {
    const pins = [pin(1.5, 1512), pin(2, 2008)];
    const { factor, offset, warning, uncertaintyMm } = found(pins);
    for (const { knownMm, shown } of pins) expect(shown[0]! * factor + offset).toBeCloseTo(knownMm, 12);
    expect(uncertaintyMm).toBeNull();
    expect(warning).toMatch(/^A third pin/);
  });

  it('of three diameters, read several times, give the least-squares fit of a reference library', () => {
    const pins = [pin(1.5, 1512, 1514), pin(2, 2008, 2007, 2010), pin(1.75, 1761)];
    const { factor, offset, residuals } = found(pins);
    const { m, b } = linearRegression(pins.flatMap(({ shown, knownMm }) => shown.map((raw) => [raw, knownMm])));
    expect(factor).toBeCloseTo(m, 12);
    expect(offset).toBeCloseTo(b, 9);
    expect(residuals.map(({ knownMm, readings }) => [knownMm, readings])).toEqual([
      [1.5, 2],
      [2, 3],
      [1.75, 1],
    ]);
    expect(residuals[2]!.offMm).toBeCloseTo(1761 * m + b - 1.75, 12);
  });

  it('have an uncertainty that holds the error of a gauge in 95 % of calibrations', () => {
    const gauss = normal(seeded(3));
    let [held, all] = [0, 0];
    let widest = 0;
    for (let i = 0; i < 500; i++) {
      // A gauge with noise of 4 µm a captured reading, and pins good to 2 µm.
      const pins = [1.5, 1.75, 2].map((knownMm) => {
        const trueMm = knownMm + 0.001 * gauss();
        return pin(knownMm, ...[1, 2, 3].map(() => 1000 * trueMm + 40 + 4 * gauss()));
      });
      const { factor, offset, uncertaintyMm } = found(pins);
      widest = Math.max(widest, uncertaintyMm!);
      for (const mm of [1.5, 1.6, 1.75, 1.9, 2]) {
        all++;
        if (Math.abs((1000 * mm + 40) * factor + offset - mm) <= uncertaintyMm!) held++;
      }
    }
    expect(held / all).toBeGreaterThan(0.95);
    expect(widest).toBeLessThan(0.03);
  });

  it('of one diameter set only the offset, with a caution', () => {
    const { factor, offset, warning } = found([pin(1.75, 1762), pin(2)], 0.001);
    expect(factor).toBe(0.001);
    expect(offset).toBeCloseTo(-0.012, 12);
    expect(warning).toMatch(/^One pin sets the offset only/);
  });

  it('cause a caution if too close together, or if one is off the line', () => {
    expect(found([pin(1.7, 1700), pin(1.75, 1750)]).warning).toMatch(
      /^The pins are only 0\.05 mm apart: .* by up to 20 %\./,
    );
    const { warning, uncertaintyMm } = found([pin(1.5, 1500), pin(1.75, 1800), pin(2, 2000)]);
    expect(warning).toMatch(/^The pin of 1\.75 mm is 0\.03\d mm off the line/);
    expect(uncertaintyMm).toBeGreaterThan(0.03);
  });

  it('that are alike, read the same or are in the wrong order give no calibration, and say why', () => {
    expect(faultOf([])).toBe('No pin has been read yet.');
    expect(faultOf([pin(1.5, 1700), pin(2, 1700)])).toMatch(/^All pins read the same/);
    expect(faultOf([pin(1.5, 1700), pin(1.5, 1710)])).toMatch(/^All pins are 1\.5 mm thick/);
    expect(faultOf([pin(1.5, 2000), pin(2, 1500)])).toMatch(/mixed up/);
    expect(faultOf([pin(1.5, 1500), pin(1.75, 2000), pin(2, 1750)])).toMatch(/^The pin of 2 mm and that of 1\.75 mm/);
  });

  it('calibrate a gauge that counts downwards, once that is sure', () => {
    expect(faultOf([pin(1.5, 2000), pin(2, 1500)], -0.001)).toBeNull();
    expect(found([pin(1.5, 2000), pin(1.75, 1750), pin(2, 1500)]).factor).toBeCloseTo(-0.001, 12);
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
