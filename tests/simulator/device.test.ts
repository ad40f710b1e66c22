import { describe, expect, it } from 'vitest';
import { isRole, LINE_BYTES_MAX } from '../../server/reading/names.ts';
import { oneDecimal, threeDecimals, twoDecimals } from '../../simulator/device/numbers.ts';
import { createSimulation } from '../../simulator/index.ts';
import { eventOf, linesOf, namedFields, readingsOf, xorHex } from './readings.ts';

describe('the checksum', () => {
  it.each([
    // Published sentences: the University of Hohenheim's NMEA page; a receiver log of 2007 at tigoe.net; the log of a
    // NOAA research cruise (ATOMIC 2020, downloads.psl.noaa.gov).
    '$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47',
    '$GPRMC,155123.000,A,4043.8432,N,07359.7653,W,0.15,83.25,200407,,*28',
    '$GPHDT,74.20,T*34',
    '$GPZDA,195959.00,14,01,2020,00,00*6A',
    '$GPVTG,147.44,T,164.31,M,0.26,N,0.49,K,D*2C',
  ])('agrees, as these tests compute it, with NMEA 0183: %s', (sentence) => {
    const [body = '', sum] = sentence.slice(1).split('*');
    expect(xorHex(body)).toBe(sum);
  });

  it.each(['named', 'json', 'columns'] as const)('is correct on every line of the shape %s', (shape) => {
    const text = createSimulation({ scenario: 'evening', shape, checksum: true }).advanceTo(90);
    const lines = linesOf(text).filter((line) => !line.startsWith('#'));
    expect(lines.length).toBeGreaterThanOrEqual(4500);
    const wrong = lines.filter((line) => {
      const star = line.lastIndexOf('*');
      return line.slice(star + 1) !== xorHex(line.slice(0, star)) || line.length > LINE_BYTES_MAX;
    });
    expect(wrong).toEqual([]);
  });
});

describe('the numbers of a device', () => {
  it('agree with toFixed to the last digit', () => {
    for (const value of [0, 0.0004, 0.0006, 1.7494, 1.75, 9.9996, 12.05, 99.96, 450, 4294967295.9, -55, -0.04, -0.26]) {
      expect(Number(oneDecimal(value))).toBeCloseTo(Number(value.toFixed(1)), 6);
      expect(Number(twoDecimals(value))).toBeCloseTo(Number(value.toFixed(2)), 6);
      expect(Number(threeDecimals(value))).toBeCloseTo(Number(value.toFixed(3)), 6);
      expect(threeDecimals(value)).toMatch(/^-?\d+\.\d{3}$/);
    }
    expect(oneDecimal(-0.04)).toBe('0.0');
  });
});

describe('the shapes', () => {
  it('named: notes of the banner first, then known names in a fixed order', () => {
    const lines = linesOf(createSimulation({ scenario: 'steady' }).advanceTo(1));
    expect(lines[0]).toMatch(/^# /);
    const reading = lines.find((line) => !line.startsWith('#')) ?? '';
    const names = [...reading.matchAll(/([a-z]+\d?)=/g)].map(([, name = '']) => name);
    expect(names.slice(0, 6)).toEqual(['ms', 'n', 'd', 't1', 's1', 'p1']);
    expect(names.every(isRole)).toBe(true);
    expect(reading).toMatch(/ d=\d\.\d{3} /);
  });

  it('json: each line is one flat object', () => {
    const lines = linesOf(createSimulation({ scenario: 'steady', shape: 'json' }).advanceTo(1));
    const objects = lines.filter((line) => !line.startsWith('#')).map((line) => JSON.parse(line));
    expect(objects.length).toBe(50);
    expect(objects[7]).toMatchObject({ n: 7, ms: 160, s3: 195 });
    expect(Object.values(objects[0]).every((value) => typeof value === 'number')).toBe(true);
  });

  it('columns: a header with a name for each column', () => {
    const simulation = createSimulation({ scenario: 'steady', shape: 'columns', lineEnd: '\n' });
    const [header = '', ...lines] = simulation
      .advanceTo(1)
      .split('\n')
      .filter((line) => line !== '' && !line.startsWith('#'));
    const names = header.split(',');
    expect(`${header}\n`).toBe(simulation.header);
    expect(names.every(isRole)).toBe(true);
    for (const line of lines) {
      expect(line.split(',').map(Number).every(Number.isFinite)).toBe(true);
      expect(line.split(',')).toHaveLength(names.length);
    }
  });

  it('have the same values in all three', () => {
    const last = (shape: 'named' | 'json' | 'columns') => {
      const simulation = createSimulation({ scenario: 'steady', shape, checksum: shape === 'named' });
      const line = linesOf(simulation.advanceTo(45)).at(-1) ?? '';
      if (shape === 'named') return namedFields(line);
      if (shape === 'json') return JSON.parse(line);
      const values = line.split(',').map(Number);
      return Object.fromEntries(
        (simulation.header ?? '')
          .trim()
          .split(',')
          .map((name, i) => [name, values[i]]),
      );
    };
    expect(last('named')?.d).toBeGreaterThan(1.6);
    expect(last('json')).toEqual(last('named'));
    expect(last('columns')).toEqual(last('named'));
  });

  it('can have every field of the contract', () => {
    const fields = ['us', 'n', 'd', 'amp', 'bar', 'turns', 'ta', 'rh', 't1', 't4', 'len'] as const;
    const text = createSimulation({ scenario: 'steady', fields, checksum: false }).advanceTo(120);
    expect(linesOf(text).at(-1)).toMatch(
      /^us=120000000 n=5999 d=1\.7\d\d amp=[12]\.\d\d bar=[34]\d\.\d turns=\d+ ta=\d\d\.\d rh=\d\d\.\d t1=17\d\.\d t4=null len=\d+\.\d$/,
    );
  });
});

describe('the counters', () => {
  it('wrap at 2^32', () => {
    const simulation = createSimulation({ scenario: 'steady', startMs: 2 ** 32 - 1000, startN: 2 ** 32 - 25 });
    const text = simulation.advanceTo(2);
    expect(text).not.toContain('#');
    const readings = readingsOf(text);
    expect(readings[0]).toMatchObject({ ms: 2 ** 32 - 980, n: 2 ** 32 - 25 });
    expect(readings[24]?.n).toBe(2 ** 32 - 1);
    expect(readings[25]?.n).toBe(0);
    expect(readings[48]?.ms).toBe(2 ** 32 - 20);
    expect(readings[49]?.ms).toBe(0);
  });

  it('follow a fast clock', () => {
    const readings = readingsOf(createSimulation({ scenario: 'steady', clockErrorPpm: 3000 }).advanceTo(100));
    expect(readings.at(-1)?.ms).toBe(100_300);
  });

  it('start at zero after a restart, with a silence and a cut line joined to the next one', () => {
    const simulation = createSimulation({ scenario: 'restarting-controller', seed: 3 });
    const before = simulation.advanceTo(109.9);
    const after = simulation.advanceTo(130);
    const lines = linesOf(after);
    const cut = lines.findIndex((line) => namedFields(line) === null && !line.startsWith('#'));
    expect(cut).toBeGreaterThan(0);
    const readBefore = lines.slice(0, cut).map(namedFields);
    expect(readBefore.at(-1)?.n).toBe(readingsOf(before).length + cut - 1);
    const [next] = readingsOf(lines.slice(cut + 1).join('\n'));
    expect(next?.n).toBeLessThan(2);
    expect(next?.ms).toBeLessThan(60);
    expect(next?.len).toBeLessThan(3);
    // 20.1 s less 1.7 s of booting.
    expect(readingsOf(after).length).toBeGreaterThan(910);
    expect(readingsOf(after).length).toBeLessThan(923);
    expect(simulation.counts.restarts).toBe(1);
    expect(eventOf(simulation.truth(), 'device-restart').fromS).toBe(110);
    // The line itself continues.
    expect(simulation.line.gaugeMm).toBeGreaterThan(4000);
  });
});

describe('the cable', () => {
  it('damages lines in every way, and the checksum detects nearly all of it', () => {
    const simulation = createSimulation({ scenario: 'noisy-cable', seed: 4 });
    const clean = createSimulation({ scenario: 'steady', seed: 4 });
    expect(simulation.advanceTo(90)).toBe(clean.advanceTo(90));
    const noisy = simulation.advanceTo(300);
    const undamaged = new Set(linesOf(clean.advanceTo(300)));
    const lines = linesOf(noisy);
    const wrong = lines.filter((line) => !undamaged.has(line));
    // 12 % of 10,500 lines.
    expect(simulation.counts.damaged).toBeGreaterThan(1000);
    expect(simulation.counts.damaged).toBeLessThan(1500);
    expect(wrong.length).toBeGreaterThan(700);
    expect(wrong.some((line) => /[^\x20-\x7e]/.test(line))).toBe(true);
    expect(wrong.some((line) => (line.match(/ms=/g) ?? []).length > 1)).toBe(true);
    expect(wrong.some((line) => line.length < 140)).toBe(true);
    const unnoticed = wrong.filter((line) => namedFields(line) !== null);
    expect(unnoticed.length).toBeLessThan(wrong.length / 20);
    expect(eventOf(simulation.truth(), 'noisy-cable')).toMatchObject({ fromS: 90, toS: null });
    // After the noise every line is undamaged again.
    simulation.advanceTo(300.2);
    clean.advanceTo(300.2);
    expect(simulation.advanceTo(320)).toBe(clean.advanceTo(320));
  });
});

describe('the gauge', () => {
  it('frozen: sends the same diameter on every line', () => {
    const simulation = createSimulation({ scenario: 'gauge-frozen' });
    simulation.advanceTo(180.1);
    const frozen = readingsOf(simulation.advanceTo(299)).map((reading) => reading.d);
    expect(new Set(frozen).size).toBe(1);
    simulation.advanceTo(300.1);
    expect(new Set(readingsOf(simulation.advanceTo(310)).map((reading) => reading.d)).size).toBeGreaterThan(10);
  });

  it('empty: sends no diameter while the strand is still wound', () => {
    const simulation = createSimulation({ scenario: 'gauge-empty' });
    simulation.advanceTo(181);
    const woundMm = simulation.line.winder.woundMm;
    const diametersMm = readingsOf(simulation.advanceTo(209)).map((reading) => reading.d);
    expect(Math.max(...diametersMm)).toBeLessThan(0.05);
    expect(simulation.line.winder.woundMm - woundMm).toBeGreaterThan(28 * 33);
  });
});
