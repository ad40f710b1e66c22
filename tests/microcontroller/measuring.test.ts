import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, afterEach, beforeAll, describe, expect, test } from 'vitest';
import { type EmulatedBoard, startEmulatedBoard } from './emulated-board.ts';
import { type HeardLine, type LineListener, listen, numberOf } from './line-listener.ts';

const SUPPLY_MV = 5_000;
const PULL_UP_OHM = 4_700;
/** A line is a mean over this long before its `ms`. */
const LINE_PERIOD_MS = 20;

/**
 * R/T curve 8406 (EPCOS/TDK data sheet B57540G, p. 10), ratios R(T)/R(25 °C) of a glass NTC for hot places, here for
 * R25 = 100 kΩ. 25, 200 and 250 °C fix the firmware's constants; 160, 220 and 300 °C test them.
 */
const CURVE_8406: readonly (readonly [celsius: number, ratio: number, toleranceK: number])[] = [
  [25, 1, 0.3],
  [160, 0.0076052, 0.4],
  [200, 0.0028817, 0.3],
  [220, 0.0018691, 0.3],
  [250, 0.0010318, 0.5],
  // One step of the 10-bit converter is 7 K here: what a mean over 640 noisy conversions leaves, and the fit's 0.4 K.
  [300, 0.00043412, 1.5],
];

const dividerMv = (ohm: number) => (SUPPLY_MV * ohm) / (ohm + PULL_UP_OHM);
const meanOf = (lines: readonly HeardLine[], name: string) =>
  lines.reduce((sum, line) => sum + numberOf(line, name), 0) / lines.length;

let folder: string;
let board: EmulatedBoard;
let listener: LineListener;

const isAfter = (line: HeardLine, boardMs: number) => line.fields.has('ms') && numberOf(line, 'ms') > boardMs;

/** The next `count` lines that show nothing but what the board has seen since `delayMs` after now. */
async function settled(count: number, delayMs = 0): Promise<HeardLine[]> {
  const startMs = (await board.time()) + delayMs + LINE_PERIOD_MS + 1; // + 1: the line's ms is a whole number
  const first = (await listener.until((line) => isAfter(line, startMs))).at(-1)!;
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
  test('a voltage comes back as diameter within 0.002 mm, over the whole range and without any noise to help', async () => {
    // 0.5 mm/V, as config.h has it
    for (const mv of [0, 611, 2_817, 3_201, 3_400, 3_499, 3_500, 3_502, 3_603, 3_801, 4_444, 4_990]) {
      await board.adc(0, mv);
      const d = numberOf((await settled(1))[0]!, 'd');
      expect(Math.abs(d - mv / 2_000), `${mv} mV`).toBeLessThanOrEqual(0.002);
    }
  });

  test('noise of half a converter step lets the mean see finer than the converter', async () => {
    await board.adc(0, 3_502); // 717.2 steps: a quiet converter says 717, which is 1.7505 mm
    expect((await settled(1))[0]!.fields.get('d')).toBe('1.750');
    await board.noise(0, 2.5);
    const lines = await settled(50);
    await board.noise(0, 0);
    expect(Math.abs(meanOf(lines, 'd') - 1.751)).toBeLessThan(0.0002);
    for (const line of lines) expect(Math.abs(numberOf(line, 'd') - 1.751)).toBeLessThan(0.0015);
  });

  test('a blob passing the gauge is seen with its shape', async () => {
    await board.adc(0, 3_500);
    await settled(1);
    let endMs = Number.POSITIVE_INFINITY;
    const heard = listener.until((line) => isAfter(line, endMs));
    endMs = (await board.ramp(0, 3_500, 4_100, 0.3)) + 350;
    const rising = (await heard).map((line) => numberOf(line, 'd'));
    expect(rising.every((d, i) => i === 0 || d >= rising[i - 1]! - 0.0011)).toBe(true);
    // 0.3 mm in 0.3 s: 0.02 mm a line
    const steps = rising.slice(1).map((d, i) => d - rising[i]!);
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

  test('published resistances come back as their temperatures, on all three inputs', async () => {
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

  test('an open and a shorted sensor set their bits and have no temperature; the third is not touched', async () => {
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

  test('a cold workshop is no open circuit', async () => {
    // −15 °C by the beta model, formula only: 100 kΩ · exp(3950 K · (1/258.15 K − 1/298.15 K)) = 779 kΩ
    await board.adc(1, dividerMv(779_000));
    for (const line of await settled(3)) {
      expect(line.fields.get('f1')).toBe('0');
      expect(numberOf(line, 't1')).toBeLessThan(-5);
    }
  });
});

describe('length', () => {
  afterEach(async () => {
    await board.pulses(0);
    await board.bounce(0);
  });

  test.each([
    ['clean', 0],
    ['bouncing for 0.8 ms at each edge', 800],
  ])('pulses give length and speed: %s', async (_, bounceUs) => {
    await board.bounce(bounceUs);
    await board.pulses(186); // 93 mm/s at 0.5 mm a pulse
    const lines = await settled(50, 300);
    const first = lines[0]!;
    const last = lines.at(-1)!;
    const seconds = (numberOf(last, 'ms') - numberOf(first, 'ms')) / 1_000;
    expect(Math.abs(numberOf(last, 'len') - numberOf(first, 'len') - 93 * seconds)).toBeLessThanOrEqual(0.5);
    for (const line of lines) expect(Math.abs(numberOf(line, 'v') - 93)).toBeLessThan(0.1);
  });

  test('length never falls, and speed goes to zero once the pulses have stopped', async () => {
    await board.pulses(20); // 10 mm/s
    const moving = await settled(25, 300);
    expect(Math.abs(numberOf(moving.at(-1)!, 'v') - 10)).toBeLessThan(0.1);
    await board.pulses(0);
    const stopping = await listener.until((line) => numberOf(line, 'v') === 0);
    const lengths = [...moving, ...stopping].map((line) => numberOf(line, 'len'));
    expect(lengths.every((len, i) => i === 0 || len >= lengths[i - 1]!)).toBe(true);
    const speeds = stopping.map((line) => numberOf(line, 'v'));
    expect(speeds.every((v, i) => i === 0 || v <= speeds[i - 1]!)).toBe(true);
    // Held up to the overdue pulse, then falling as one pulse in the time waited: 0.5 mm in 2 s before it is zero.
    expect(Math.abs(speeds.at(-2)! - 0.25)).toBeLessThan(0.02);
  });
});

describe('a board that knows set-points and heater signals', () => {
  test('prints s1…s3 and p1…p3 beside each zone, and converts by the beta model', async () => {
    const knowing = await startEmulatedBoard({
      linkPath: join(folder, 'knowing'),
      firmware: 'all-fields',
    });
    try {
      for (const [zone, share] of [
        [1, 0],
        [2, 0.35],
        [3, 1],
      ] as const) {
        await knowing.heater(zone, share);
        await knowing.adc(zone, dividerMv(288.17));
      }
      const heard = await listen(knowing.linkPath);
      const start = await heard.until((line) => isAfter(line, 3_000));
      const line = start.at(-1)!;
      expect([...line.fields.keys()].slice(3, 7)).toEqual(['t1', 'f1', 's1', 'p1']);
      expect(['s1', 's2', 's3'].map((name) => numberOf(line, name))).toEqual([170, 185, 190]);
      expect(numberOf(line, 'p1')).toBe(0);
      expect(Math.abs(numberOf(line, 'p2') - 0.35)).toBeLessThanOrEqual(0.011);
      expect(numberOf(line, 'p3')).toBe(1);
      expect(Math.abs(numberOf(line, 't2') - 200)).toBeLessThan(0.5);
      await heard.close();
    } finally {
      await knowing.stop();
    }
  });
});
