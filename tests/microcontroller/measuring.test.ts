import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, afterEach, beforeAll, describe, expect, test } from 'vitest';
import { IS_LONG_CHECK } from '../long-check.ts';
import { type EmulatedBoard, startEmulatedBoard } from './emulated-board.ts';
import { type LineListener, listen, numberOf, type ReceivedLine, stepsOf } from './line-listener.ts';

const SUPPLY_MV = 5_000;
const PULL_UP_OHM = 4_700;
/** A line is a mean over this time before its `ms`. */
const LINE_PERIOD_MS = 20;

/**
 * R/T curve 8406 (EPCOS/TDK data sheet B57540G, p. 10), ratios R(T)/R(25 °C) of a glass NTC for high temperatures, here with
 * R25 = 100 kΩ. The firmware's constants are calculated from 25, 200 and 250 °C and checked at 160, 220 and 300 °C.
 */
const CURVE_8406: readonly (readonly [celsius: number, ratio: number, toleranceK: number])[] = [
  [25, 1, 0.3],
  [160, 0.0076052, 0.4],
  [200, 0.0028817, 0.3],
  [220, 0.0018691, 0.3],
  [250, 0.0010318, 0.5],
  // One step of the 10-bit converter is 7 K here. The tolerance covers a mean of 640 noisy conversions and the fit's 0.4 K.
  [300, 0.00043412, 1.5],
];

const dividerMv = (ohm: number) => (SUPPLY_MV * ohm) / (ohm + PULL_UP_OHM);
const meanOf = (lines: readonly ReceivedLine[], name: string) =>
  lines.reduce((sum, line) => sum + numberOf(line, name), 0) / lines.length;

let folder: string;
let board: EmulatedBoard;
let listener: LineListener;

const isAfter = (line: ReceivedLine, boardMs: number) => line.fields.has('ms') && numberOf(line, 'ms') > boardMs;

/** The next `count` lines that were measured completely later than `delayMs` from now. */
async function settled(count: number, delayMs = 0): Promise<[ReceivedLine, ...ReceivedLine[]]> {
  const startMs = (await board.time()) + delayMs + LINE_PERIOD_MS + 1; // + 1: the line's ms is a whole number
  const first = await listener.first((line) => isAfter(line, startMs));
  return [first, ...(count > 1 ? await listener.next(count - 1) : [])];
}

beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'strandward-board-'));
  board = await startEmulatedBoard({ linkPath: join(folder, 'tty') });
  listener = await listen(board.linkPath);
});

afterAll(async () => {
  await listener?.close();
  await board?.stop();
  rmSync(folder, { recursive: true, force: true });
});

describe('gauge', () => {
  test('reads the diameter within 0.002 mm over the whole range, even without noise', async () => {
    // 0.5 mm/V as in config.h
    for (const mv of [0, 611, 2_817, 3_201, 3_400, 3_499, 3_500, 3_502, 3_603, 3_801, 4_444, 4_990]) {
      await board.adc(0, mv);
      const [line] = await settled(1);
      const d = numberOf(line, 'd');
      expect(Math.abs(d - mv / 2_000), `${mv} mV`).toBeLessThanOrEqual(0.002);
    }
  });

  test('has a finer resolution than the converter if the noise is half a step', async () => {
    await board.adc(0, 3_502); // 717.2 steps: without noise the converter reads 717, which is 1.7505 mm
    const [withoutNoise] = await settled(1);
    expect(withoutNoise.fields.get('d')).toBe('1.750');
    await board.noise(0, 2.5);
    const lines = await settled(50);
    await board.noise(0, 0);
    expect(Math.abs(meanOf(lines, 'd') - 1.751)).toBeLessThan(0.0002);
    for (const line of lines) expect(Math.abs(numberOf(line, 'd') - 1.751)).toBeLessThan(0.0015);
  });

  test('shows the shape of a blob that passes', async () => {
    await board.adc(0, 3_500);
    await settled(1);
    let endMs = Number.POSITIVE_INFINITY;
    const during = listener.until((line) => isAfter(line, endMs));
    endMs = (await board.ramp(0, 3_500, 4_100, 0.3)) + 350;
    const rising = (await during).map((line) => numberOf(line, 'd'));
    const steps = stepsOf(rising);
    expect(Math.min(...steps)).toBeGreaterThanOrEqual(-0.0011);
    // 0.3 mm in 0.3 s are 0.02 mm per line.
    expect(Math.max(...steps)).toBeGreaterThan(0.017);
    expect(Math.max(...steps)).toBeLessThan(0.023);
    expect(rising.at(-1)).toBeCloseTo(2.05, 2);
  });
});

describe('thermistors', () => {
  afterEach(async () => {
    for (const input of [1, 2, 3]) {
      await board.noise(input, 0);
      await board.adc(input, dividerMv(100_000));
    }
  });

  test('read the temperatures of published resistances on all three inputs', async () => {
    for (const input of [1, 2, 3]) await board.noise(input, 2.5);
    for (let i = 0; i < CURVE_8406.length; i += 3) {
      const points = CURVE_8406.slice(i, i + 3);
      for (const [j, [, ratio]] of points.entries()) await board.adc(j + 1, dividerMv(100_000 * ratio));
      const lines = await settled(20);
      for (const [j, [celsius, , toleranceK]] of points.entries()) {
        const measured = meanOf(lines, `t${j + 1}`);
        expect(Math.abs(measured - celsius), `${celsius} °C read as ${measured}`).toBeLessThan(toleranceK);
        expect(lines.every((line) => line.fields.get(`f${j + 1}`) === '0')).toBe(true);
      }
    }
  });

  test('have fault bits and no temperature if open or shorted, without an effect on the others', async () => {
    await board.adc(1, SUPPLY_MV);
    await board.adc(2, 0);
    await board.adc(3, dividerMv(100_000));
    for (const line of await settled(5)) {
      expect([line.fields.get('f1'), line.fields.get('t1')]).toEqual(['1', 'nan']);
      expect([line.fields.get('f2'), line.fields.get('t2')]).toEqual(['2', 'nan']);
      expect(line.fields.get('f3')).toBe('0');
      expect(Math.abs(numberOf(line, 't3') - 25)).toBeLessThan(0.4);
    }
  });

  test('read a cold workshop without a fault', async () => {
    // −15 °C by the beta model, formula only: 100 kΩ · exp(3950 K · (1/258.15 K − 1/298.15 K)) = 779 kΩ
    await board.adc(1, dividerMv(779_000));
    for (const line of await settled(3)) {
      expect(line.fields.get('f1')).toBe('0');
      expect(numberOf(line, 't1')).toBeLessThan(-5);
    }
  });
});

describe.runIf(IS_LONG_CHECK)('length', () => {
  afterEach(async () => {
    await board.pulses(0);
    await board.bounce(0);
  });

  test.each([
    ['clean', 0],
    ['bouncing for 0.8 ms at each edge', 800],
  ])('and speed are measured by pulses: %s', async (_, bounceUs) => {
    await board.bounce(bounceUs);
    await board.pulses(186); // 93 mm/s at 0.5 mm per pulse
    const lines = await settled(50, 300);
    const [first] = lines;
    const last = lines.at(-1) ?? first;
    const seconds = (numberOf(last, 'ms') - numberOf(first, 'ms')) / 1_000;
    expect(Math.abs(numberOf(last, 'len') - numberOf(first, 'len') - 93 * seconds)).toBeLessThanOrEqual(0.5);
    for (const line of lines) expect(Math.abs(numberOf(line, 'v') - 93)).toBeLessThan(0.1);
  });

  test('never falls, and the speed falls to zero after the last pulse', async () => {
    await board.pulses(20); // 10 mm/s
    const moving = await settled(25, 300);
    expect(Math.abs(numberOf(moving.at(-1) ?? moving[0], 'v') - 10)).toBeLessThan(0.1);
    await board.pulses(0);
    const stopping = await listener.until((line) => numberOf(line, 'v') === 0);
    const lengths = [...moving, ...stopping].map((line) => numberOf(line, 'len'));
    expect(Math.min(...stepsOf(lengths))).toBeGreaterThanOrEqual(0);
    const speeds = stopping.map((line) => numberOf(line, 'v'));
    expect(Math.max(...stepsOf(speeds))).toBeLessThanOrEqual(0);
    // It is constant until a pulse is overdue, then one pulse in the time since the last: 0.5 mm in 2 s before it is zero.
    expect(Math.abs((speeds.at(-2) ?? Number.NaN) - 0.25)).toBeLessThan(0.02);
  });
});

describe.runIf(IS_LONG_CHECK)('a board with set-points and heater signals', () => {
  test('prints s1…s3 and p1…p3 for each zone, and uses the beta model', async () => {
    const allFields = await startEmulatedBoard({
      linkPath: join(folder, 'all-fields'),
      firmware: 'all-fields',
    });
    try {
      for (const [zone, share] of [
        [1, 0],
        [2, 0.35],
        [3, 1],
      ] as const) {
        await allFields.heater(zone, share);
        await allFields.adc(zone, dividerMv(288.17));
      }
      const received = await listen(allFields.linkPath);
      const line = await received.first((each) => isAfter(each, 3_000));
      expect([...line.fields.keys()].slice(3, 7)).toEqual(['t1', 'f1', 's1', 'p1']);
      expect(['s1', 's2', 's3'].map((name) => numberOf(line, name))).toEqual([170, 185, 190]);
      expect(numberOf(line, 'p1')).toBe(0);
      expect(Math.abs(numberOf(line, 'p2') - 0.35)).toBeLessThanOrEqual(0.011);
      expect(numberOf(line, 'p3')).toBe(1);
      expect(Math.abs(numberOf(line, 't2') - 200)).toBeLessThan(0.5);
      await received.close();
    } finally {
      await allFields.stop();
    }
  });
});
