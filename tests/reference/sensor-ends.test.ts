import { describe, expect, test } from 'vitest';
import { HeatWatch } from '../../server/heat/heat-watch.ts';
import type { HeatFault } from '../../server/heat/zone-status.ts';
import { zoneLayout } from '../heat/zone-layout.ts';

/**
 * Strandward receives degrees; the board converts the sensors. The temperature that a line sends for a broken or shorted
 * sensor follows from the published tables, and must lead to a fault for every kind of sensor. (The firmware's own thermistor arithmetic is
 * checked in tests/microcontroller/thermistor-arithmetic.test.ts.)
 */

/** IEC 60751:2008, platinum resistance of 100 Ω at 0 °C, for t ≥ 0; below, with the third coefficient. */
function pt100Ohm(celsius: number): number {
  const [a, b, c] = [3.9083e-3, -5.775e-7, -4.183e-12];
  const below = celsius < 0 ? c * (celsius - 100) * celsius ** 3 : 0;
  return 100 * (1 + a * celsius + b * celsius ** 2 + below);
}

/** NIST ITS-90 (SRD 60, Monograph 175) = IEC 60584-1, type K, 0…1372 °C, mV; the twelve-digit coefficients from memory. */
function typeKMillivolt(celsius: number): number {
  const c = [
    -1.7600413686e-2, 3.8921204975e-2, 1.85587700320352e-5, -9.94575928740349e-8, 3.1840945719e-10, -5.6072844889e-13,
    5.6075059059e-16, -3.2020720003e-19, 9.7151147152e-23, -1.2104721275e-26,
  ];
  const bump = 0.1185976 * Math.exp(-1.183432e-4 * (celsius - 126.9686) ** 2);
  return c.reduce((sum, one, power) => sum + one * celsius ** power, 0) + bump;
}

/** Module manual of a 10 kΩ thermistor: A, B, C of Steinhart–Hart. */
function ntcCelsius(ohm: number): number {
  const l = Math.log(ohm);
  return 1 / (0.001129148 + 0.000234125 * l + 8.76741e-8 * l ** 3) - 273.15;
}

/** All faults reported within ten seconds of the sensor reading `sensorC`, after ten minutes at 200 °C. */
function faultsOf(sensorC: number): HeatFault[] {
  const watch = new HeatWatch({ absoluteLimitC: 300, atHeatWithinC: 5 });
  const layout = zoneLayout(1);
  const reported = new Set<HeatFault>();
  for (let i = 0; i < 5 * 610; i++) {
    const temperatureC = i < 3000 ? 200 + 0.1 * (i % 3) : sensorC;
    const values = [temperatureC, 200, 0.3, 0];
    const statuses = watch.step({ timeMs: i * 200, layout, values, lostBefore: 0, restarted: false });
    for (const { faults } of statuses) for (const fault of faults) reported.add(fault);
  }
  return [...reported];
}

describe('the formulas are those of the standards', () => {
  test.each([
    [-200, 18.52],
    [-100, 60.26],
    [0, 100],
    [100, 138.51],
    [200, 175.86],
    [850, 390.48],
  ])('Pt100 at %f °C: %f Ω (IEC 60751, printed table)', (celsius, ohm) => {
    expect(pt100Ohm(celsius)).toBeCloseTo(ohm, 2);
  });

  test.each([
    [25, 1.0],
    [100, 4.096],
    [200, 8.138],
    [500, 20.644],
    [1372, 54.886],
  ])('type K at %f °C: %f mV (IEC 60584-1, NIST)', (celsius, millivolt) => {
    expect(Math.abs(typeKMillivolt(celsius) - millivolt)).toBeLessThan(0.001);
  });

  test('10 kΩ NTC: 32650 Ω are 0 °C, 3603 Ω are 50 °C', () => {
    expect(ntcCelsius(32_650)).toBeCloseTo(0, 1);
    expect(ntcCelsius(3603)).toBeCloseTo(50, 1);
  });
});

describe('a broken or shorted sensor of any kind is reported', () => {
  test('Pt100: a broken wire reads the upper end of the table, 850 °C and above', () => {
    expect(pt100Ohm(850)).toBeGreaterThan(pt100Ohm(450));
    expect(faultsOf(850)).toEqual(['sensorShort']);
  });

  test('Pt100: a short, 0 Ω, is below the lower end of the table, 18.52 Ω at −200 °C', () => {
    expect(pt100Ohm(-200)).toBeGreaterThan(0);
    expect(faultsOf(-200)).toEqual(['sensorOpen']);
  });

  test('type K with burn-out detection upwards: the upper end, 1372 °C', () => {
    expect(faultsOf(1372)).toEqual(['sensorShort']);
  });

  test('type K, shorted: 0 mV, the temperature of its cold junction, is reported as an impossible fall', () => {
    expect(Math.abs(typeKMillivolt(0))).toBeLessThan(0.001);
    expect(faultsOf(25).some((fault) => fault === 'losingTemperature' || fault === 'sensorSlipped')).toBe(true);
  });

  test('NTC, open: even a ten-bit converter with 10 kΩ reads far below any workshop temperature', () => {
    const celsius = ntcCelsius((10_000 * 1023) / 1);
    expect(celsius).toBeLessThan(-20);
    expect(faultsOf(celsius)).toEqual(['sensorOpen']);
  });

  test('NTC, shorted to the last step of the converter: some 330 °C, above the absolute limit', () => {
    const celsius = ntcCelsius((10_000 * 1) / 1023);
    expect(celsius).toBeGreaterThan(300);
    expect(faultsOf(celsius)).toContain('aboveAbsoluteLimit');
  });

  test('a cold workshop at −10 °C, 96.09 Ω of a Pt100, is not a fault', () => {
    expect(pt100Ohm(-10)).toBeCloseTo(96.09, 2);
    const watch = new HeatWatch({ absoluteLimitC: 300, atHeatWithinC: 5 });
    const layout = zoneLayout(1);
    for (let i = 0; i < 500; i++) {
      const values = [-10 + 0.1 * (i % 3), 0, 0, 0];
      const [zone] = watch.step({ timeMs: i * 200, layout, values, lostBefore: 0, restarted: false });
      expect(zone?.faults).toEqual([]);
    }
  });
});
