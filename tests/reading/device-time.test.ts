import { describe, expect, test } from 'vitest';
import { seeded } from '../chance.ts';
import { Bench, checked, START_MS } from './intake-bench.ts';

const WRAP = 2 ** 32;

function line(uptime: number, n: number, unit: 'ms' | 'us' = 'ms'): string {
  return checked(`${unit}=${Math.round(uptime) % WRAP} n=${n % WRAP} d=1.750`);
}

/** Differences between the dated times and the true ones, ms. */
function errors(bench: Bench, trueMs: readonly number[]): number[] {
  expect(bench.readings).toHaveLength(trueMs.length);
  return trueMs.map((time, i) => bench.reading(i).timeMs - time);
}

/** Times between a reading and the one before, from the reading with index `from` on, ms. */
function steps(bench: Bench, from = 1): number[] {
  return bench.readings.slice(from).map((reading, i) => reading.timeMs - bench.reading(from + i - 1).timeMs);
}

/** The largest difference between any error and the least delay, which the arrivals cannot show. */
function worst(late: readonly number[], leastDelay: number): number {
  return Math.max(...late.map((error) => Math.abs(error - leastDelay)));
}

function spread(values: readonly number[]): number {
  return Math.max(...values) - Math.min(...values);
}

/**
 * Run a board at 50 Hz whose clock is off by `drift`. Its bytes arrive in order, late by `delay(trueMs)`.
 * @returns the bench and the true time of each line
 */
function run(
  seconds: number,
  options: { drift?: number; unit?: 'ms' | 'us'; from?: number; delay: (ms: number) => number },
): { bench: Bench; trueMs: number[] } {
  const { drift = 0, unit = 'ms', from = 5000, delay } = options;
  const bench = new Bench();
  const trueMs: number[] = [];
  let arrived = 0;
  for (let i = 0; i < seconds * 50; i++) {
    const deviceMs = from + i * 20;
    const atMs = START_MS + (i * 20) / (1 + drift);
    trueMs.push(atMs);
    arrived = Math.max(arrived, atMs + delay(atMs - START_MS));
    bench.text(`${line(unit === 'us' ? deviceMs * 1000 : deviceMs, i, unit)}\n`, arrived);
  }
  return { bench, trueMs };
}

describe('on a live line with a device clock', () => {
  test('USB buffering does not distort the times', () => {
    // Bytes arrive every 64 ms.
    const { bench, trueMs } = run(60, { delay: (ms) => 64 - (ms % 64) });
    expect(spread(steps(bench, 501))).toBeLessThan(0.5);
    expect(spread(errors(bench, trueMs).slice(500))).toBeLessThan(2);
  });

  test.each([-0.02, -0.005, -0.00005, 0.00005, 0.005, 0.02])('the times follow a clock that is off by %d', (drift) => {
    const random = seeded(7);
    const { bench, trueMs } = run(120, { drift, delay: () => 2 + 14 * random() });
    const late = errors(bench, trueMs);
    // Soon after the start the errors are about as large as the jitter of the arrivals, later much smaller.
    expect(worst(late.slice(20 * 50), 0)).toBeLessThan(25);
    expect(worst(late.slice(60 * 50), 2)).toBeLessThan(5);
  });

  test('occasional delays of up to half a second do not shift the times', () => {
    const random = seeded(11);
    const { bench, trueMs } = run(120, { delay: () => 1 + (random() < 0.05 ? 500 * random() : 3 * random()) });
    expect(worst(errors(bench, trueMs).slice(30 * 50), 1)).toBeLessThan(3);
  });

  test('lines that the service reads five seconds late are dated when they were sent', () => {
    const { bench, trueMs } = run(60, { delay: (ms) => (ms > 30_000 && ms < 35_000 ? 35_000 - ms : 1) });
    const late = errors(bench, trueMs);
    expect(worst(late.slice(29 * 50), 1)).toBeLessThan(2);
  });

  test('a permanent delay is absorbed within minutes, without a jump', () => {
    const { bench, trueMs } = run(900, { delay: (ms) => (ms > 60_000 ? 200 : 1) });
    const late = errors(bench, trueMs);
    expect(late[120 * 50]).toBeLessThan(20);
    expect(late.at(-1)).toBeGreaterThan(180);
    expect(Math.max(...steps(bench, 501))).toBeLessThan(31);
  });

  test('the times catch up with a device whose clock stopped for ten seconds', () => {
    const bench = new Bench();
    for (let i = 0; i < 6000; i++) bench.lines([line(1000 + i * 20, i)], START_MS + i * 20 + (i < 3000 ? 0 : 10_000));
    const last = bench.reading(-1);
    expect(Math.abs(last.timeMs - (START_MS + 5999 * 20 + 10_000))).toBeLessThan(5);
    expect(bench.intake.counters().restarts).toBe(0);
  });

  test.each([
    ['ms', WRAP - 10_000, 1],
    ['us', WRAP - 10_000_000, 1000],
  ] as const)('%s wraps at 2^32 without a gap, a loss or a restart', (unit, from, perMs) => {
    const bench = new Bench();
    for (let i = 0; i < 1500; i++) bench.lines([line(from + i * 20 * perMs, i, unit)], START_MS + i * 20);
    expect(spread(steps(bench))).toBeLessThan(0.01);
    expect(bench.intake.counters()).toMatchObject({ restarts: 0, lost: 0, readings: 1500 });
  });

  test('arrivals show that us wrapped twice while the cable was unplugged', () => {
    const bench = new Bench();
    for (let i = 0; i < 100; i++) bench.lines([line(i * 20_000, i, 'us')], START_MS + i * 20);
    const outMs = (2 * WRAP) / 1000 + 60_000;
    bench.intake.opened();
    for (let i = 0; i < 100; i++) {
      bench.lines([line(2_000_000 + outMs * 1000 + i * 20_000, 400_000 + i, 'us')], START_MS + 2000 + outMs + i * 20);
    }
    expect(bench.reading(100).restarted).toBe(false);
    expect(Math.abs(bench.reading(100).timeMs - (START_MS + 2000 + outMs))).toBeLessThan(1);
  });

  test('a step back of more than a second that is not a wrap is a restart', () => {
    const bench = new Bench();
    for (let i = 0; i < 200; i++) bench.lines([line(3_000_000_000 + i * 20, 500_000 + i)], START_MS + i * 20);
    for (let i = 0; i < 200; i++) bench.lines([line(300 + i * 20, i)], START_MS + 6000 + i * 20);
    expect(bench.readings.map((reading) => reading.restarted).indexOf(true)).toBe(200);
    expect(bench.reading(200).lostBefore).toBe(0);
    expect(bench.reading(200).timeMs).toBeCloseTo(START_MS + 6000, 0);
    expect(bench.intake.counters()).toMatchObject({ restarts: 1, lost: 0, readings: 400 });
  });

  test('a device without power for an hour has restarted, even if its clock now shows more', () => {
    const bench = new Bench();
    for (let i = 0; i < 100; i++) bench.lines([line(1000 + i * 20, i)], START_MS + i * 20);
    bench.intake.opened();
    for (let i = 0; i < 100; i++) bench.lines([line(5000 + i * 20, 250 + i)], START_MS + 3_600_000 + i * 20);
    expect(bench.reading(100).restarted).toBe(true);
    expect(bench.reading(100).timeMs).toBeCloseTo(START_MS + 3_600_000, 0);
  });

  test('a cable unplugged for a minute is a gap, not a restart', () => {
    const bench = new Bench();
    for (let i = 0; i < 100; i++) bench.lines([line(1000 + i * 20, i)], START_MS + i * 20);
    bench.intake.opened();
    for (let i = 3100; i < 3200; i++) bench.lines([line(1000 + i * 20, i)], START_MS + i * 20);
    expect(bench.readings[100]).toMatchObject({ restarted: false, lostBefore: 3000 });
    expect(bench.reading(100).timeMs).toBeCloseTo(START_MS + 62_000, 0);
  });

  test('times strictly increase for any input', () => {
    const random = seeded(3);
    const bench = new Bench();
    let uptime = 1000;
    let arrival = START_MS;
    for (let i = 0; i < 5000; i++) {
      uptime = random() < 0.01 ? Math.floor(random() * WRAP) : (uptime + Math.floor(random() * 40)) % WRAP;
      arrival += random() * 40;
      bench.lines([checked(`ms=${uptime} d=1.750`)], arrival);
    }
    expect(bench.readings.length).toBeGreaterThan(4000);
    expect(Math.min(...steps(bench))).toBeGreaterThan(0);
  });
});

describe('line numbers', () => {
  test('a jump counts the lost lines', () => {
    const numbers = [5, 6, 9, 10, 11, 41];
    const bench = new Bench().lines(numbers.map((n) => line(n * 20, n)));
    expect(bench.readings.map((reading) => reading.lostBefore)).toEqual([0, 0, 2, 0, 0, 29]);
    expect(bench.intake.counters().lost).toBe(31);
  });

  test('n wraps at 2^32 without lost lines', () => {
    const bench = new Bench().lines([WRAP - 2, WRAP - 1, WRAP, WRAP + 2].map((n, i) => line(1000 + i * 20, n)));
    expect(bench.readings.map((reading) => reading.lostBefore)).toEqual([0, 0, 0, 1]);
    expect(bench.intake.counters().restarts).toBe(0);
  });

  test('n that restarts while the clock continues is a reset counter, not a restart', () => {
    const bench = new Bench().lines([65_534, 65_535, 0, 1].map((n, i) => line(1000 + i * 20, n)));
    expect(bench.intake.counters()).toMatchObject({ restarts: 0, lost: 0, readings: 4 });
  });

  test('n that restarts on a board without a clock is a restart', () => {
    const bench = new Bench().lines([50, 51, 0, 1].map((n) => checked(`n=${n} d=1.750`)));
    expect(bench.readings.map((reading) => reading.restarted)).toEqual([false, false, true, false]);
  });
});

describe('on a live line without a device clock', () => {
  test('readings are dated by their arrival', () => {
    const bench = new Bench();
    for (let i = 0; i < 50; i++) bench.lines([checked('d=1.750')], START_MS + i * 20);
    expect(bench.readings.map((reading) => reading.timeMs - START_MS)).toEqual(
      Array.from({ length: 50 }, (_, i) => i * 20),
    );
  });

  test('lines that arrive together are spread evenly', () => {
    const bench = new Bench();
    for (let i = 0; i < 50; i++) bench.lines([checked('d=1.750')], START_MS + i * 20);
    bench.lines(Array(250).fill(checked('d=1.750')), START_MS + 980 + 5000);
    expect(spread(steps(bench, 50))).toBeLessThan(0.01);
    expect(bench.reading(-1).timeMs).toBeCloseTo(START_MS + 5980, 3);
  });
});

describe('on a recorded line', () => {
  const offsets = (bench: Bench) => bench.readings.map((reading) => reading.timeMs - START_MS);

  test('readings are dated by the device clock alone, from the given start', () => {
    expect(offsets(new Bench().lines([7000, 7020, 7041, 7060].map((ms, n) => line(ms, n))))).toEqual([0, 20, 41, 60]);
  });

  test('a long jump forward is a gap', () => {
    const lines = [0, 20, 40, 3_600_040, 3_600_060].map((ms, i) => line(ms, i < 3 ? i : i + 180_000));
    expect(offsets(new Bench().lines(lines))).toEqual([0, 20, 40, 3_600_040, 3_600_060]);
  });

  test('a restart is a silence of two seconds, or of the uptime after it if that is longer', () => {
    const before = Array.from({ length: 30 }, (_, i) => line(900_000 + i * 25, 100 + i));
    const after = Array.from({ length: 5 }, (_, i) => line(300 + i * 25, i));
    const bench = new Bench().lines([...before, ...after]);
    expect(bench.reading(30).restarted).toBe(true);
    expect(offsets(bench).slice(29)).toEqual([725, 2725, 2750, 2775, 2800, 2825]);
    const slow = Array.from({ length: 5 }, (_, i) => line(4500 + i * 25, i));
    expect(offsets(new Bench().lines([...before, ...slow])).slice(29, 32)).toEqual([725, 5225, 5250]);
  });

  test('without a clock the nominal rate dates the readings, and lost lines count', () => {
    const bench = new Bench({ recordedRateHz: 10 }).lines([0, 1, 2, 5, 6].map((n) => checked(`n=${n} d=1.750`)));
    expect(offsets(bench)).toEqual([0, 100, 200, 500, 600]);
  });

  test('a wrap is not a restart', () => {
    const bench = new Bench().lines([0, 1, 2, 3].map((i) => line(WRAP - 30 + i * 20, i)));
    expect(offsets(bench)).toEqual([0, 20, 40, 60]);
    expect(bench.intake.counters().restarts).toBe(0);
  });
});

describe('a continued run', () => {
  test('is dated after its last reading, even if this machine’s clock is behind', () => {
    const notBeforeMs = START_MS + 60_000;
    const live = new Bench({ notBeforeMs });
    for (let i = 0; i < 50; i++) live.lines([line(i * 20, i)], START_MS + i * 20);
    expect(live.reading(0).timeMs).toBeGreaterThan(notBeforeMs);
    expect(spread(steps(live))).toBeLessThan(0.01);
    const recorded = new Bench({ notBeforeMs }).lines([0, 20, 40].map((ms, n) => line(ms, n)));
    expect(recorded.readings.map((reading) => reading.timeMs - notBeforeMs)).toEqual([20, 40, 60]);
  });
});
