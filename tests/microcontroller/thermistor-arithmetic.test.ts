import { spawnSync } from 'node:child_process';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { beforeAll, describe, expect, test } from 'vitest';
import { compileForThisComputer, MICROCONTROLLER_FOLDER } from './toolchain.ts';

const FIRMWARE = join(MICROCONTROLLER_FOLDER, 'firmware');
const PULL_UP_OHM = 4_700;

let program: string;

/** The answer of the firmware's C functions, compiled for this computer; `float` as on the board. */
function ask(question: string): [celsius: number, fault: number] {
  const { status, stdout, stderr } = spawnSync(program, { input: `${question}\n`, encoding: 'utf8' });
  if (status !== 0) throw new Error(stderr);
  const [celsius = Number.NaN, fault = Number.NaN] = stdout.trim().split(' ').map(Number);
  return [celsius, fault];
}

const share = (ohm: number) => ohm / (ohm + PULL_UP_OHM);

beforeAll(async () => {
  program = await compileForThisComputer(
    'thermistor-arithmetic',
    [fileURLToPath(new URL('thermistor-arithmetic.c', import.meta.url)), join(FIRMWARE, 'thermistor.c')],
    ['-I', FIRMWARE],
  );
});

describe('Steinhart–Hart', () => {
  // Constants of a 10 kΩ NTC, from a sensor module's manual (studylibfr.com/doc/3640921); the R/T pairs are those
  // usually printed with them, from memory, and agree with the formula.
  test.each([
    [32_650, 0.0],
    [10_000, 25.0],
    [3_603, 49.99],
  ])('%d Ω of a 10 kΩ NTC are %d °C', (ohm, celsius) => {
    expect(Math.abs(ask(`sh .001129148 .000234125 8.76741e-8 ${ohm}`)[0] - celsius)).toBeLessThan(0.006);
  });

  // EPCOS/TDK data sheet B57540G, p. 10, R/T curve 8406. The constants of config.h do not depend on 160, 220 and 300 °C.
  test.each([
    [25, 1, 0.01],
    [160, 0.0076052, 0.4],
    [200, 0.0028817, 0.01],
    [220, 0.0018691, 0.4],
    [250, 0.0010318, 0.01],
    [300, 0.00043412, 0.4],
  ])('with the constants of config.h agrees with the published curve at %d °C', (celsius, ratio, toleranceK) => {
    const [measured, fault] = ask(`read ${share(100_000 * ratio)}`);
    expect(fault).toBe(0);
    expect(Math.abs(measured - celsius)).toBeLessThan(toleranceK);
  });
});

describe('beta', () => {
  // EPCOS data sheet B57861S, p. 6: curves 8016 (B25/100 = 3988 K) and 8018 (3964 K), R(100 °C)/R(25 °C).
  // 0.1 K, because the ratios are printed to three digits.
  test.each([
    ['8016', 3_988, 0.068],
    ['8018', 3_964, 0.0691],
  ])('curve %s is 100 °C at its published ratio', (_, betaKelvin, ratio) => {
    expect(Math.abs(ask(`beta 10000 25 ${betaKelvin} ${10_000 * ratio}`)[0] - 100)).toBeLessThan(0.1);
  });

  test('agrees with the example of EPCOS, Standardized R/T characteristics, section 1: 9.7932 kΩ are 7 °C', () => {
    // curve 1006, R25 = 4.7 kΩ: R5 = 10.6873 kΩ, α5 = 4.4 %/K, which is B = α T² = 0.044 · 278.15²
    const betaKelvin = 0.044 * 278.15 ** 2;
    expect(Math.abs(ask(`beta 10687.3 5 ${betaKelvin} 9793.2`)[0] - 7)).toBeLessThan(0.005);
  });

  test('agrees with the published B(200/300) of curve 8406, 5133 K, from 200 to 300 °C', () => {
    expect(Math.abs(ask('beta 288.17 200 5133 43.412')[0] - 300)).toBeLessThan(0.05);
  });
});

describe('the fault', () => {
  test.each([
    ['the supply', 1, 1],
    ['1.5 MΩ', share(1_500_000), 1],
    ['1 MΩ, a sensor in frost', share(1_000_000), 0],
    ['35 Ω, hotter than any barrel', share(35), 0],
    ['20 Ω', share(20), 2],
    ['ground', 0, 2],
  ])('is detected by the limits: %s', (_, input, bits) => {
    const [celsius, fault] = ask(`read ${input}`);
    expect(fault).toBe(bits);
    expect(Number.isNaN(celsius)).toBe(bits !== 0);
  });

  test('is not set without a conversion, which has no value', () => {
    expect(ask('read nan')).toEqual([Number.NaN, 0]);
  });
});
