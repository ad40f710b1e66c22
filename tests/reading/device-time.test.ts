import { describe, expect, test } from 'vitest';
import { Bench, checked, START_MS } from './take-in.ts';

const WRAP = 2 ** 32;

function line(uptime: number, n: number, unit: 'ms' | 'us' = 'ms'): string {
  return checked(`${unit}=${Math.round(uptime) % WRAP} n=${n % WRAP} d=1.750`);
}

/** Errors of the given times against the true ones, ms. */
function errors(bench: Bench, trueMs: readonly number[]): number[] {
  expect(bench.readings).toHaveLength(trueMs.length);
  return bench.readings.map((reading, i) => reading.timeMs - trueMs[i]!);
}

/** The largest distance of any error from what the arrivals cannot tell: their least delay. */
function worst(late: readonly number[], leastDelay: number): number {
  return Math.max(...late.map((error) => Math.abs(error - leastDelay)));
}

function spread(values: readonly number[]): number {
  return Math.max(...values) - Math.min(...values);
}

/** Repeatable numbers 0…1 (Park and Miller's minimal standard generator). */
function randomFrom(seed: number): () => number {
  let state = seed;
  return () => {
    state = (state * 48_271) % 2_147_483_647;
    return state / 2_147_483_647;
  };
}

/**
 * A board at 50 Hz whose clock is off by `drift`, and whose bytes arrive late by `delay(trueMs)`, in order.
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
  test('USB buffering that bunches the lines does not bend the times', () => {
    // Bytes are handed over every 64 ms.
    const { bench, trueMs } = run(60, { delay: (ms) => 64 - (ms % 64) });
    const steps = bench.readings.slice(500).map((r, i, all) => (i === 0 ? 20 : r.timeMs - all[i - 1]!.timeMs));
    expect(spread(steps)).toBeLessThan(0.5);
    expect(spread(errors(bench, trueMs).slice(500))).toBeLessThan(2);
  });

  test.each([-0.02, -0.005, -0.00005, 0.00005, 0.005, 0.02])('a clock that is off by %d is followed', (drift) => {
    const random = randomFrom(7);
    const { bench, trueMs } = run(120, { drift, delay: () => 2 + 14 * random() });
    const late = errors(bench, trueMs);
    // Soon after the start, about within the jitter of the arrivals; later, closer.
    expect(worst(late.slice(20 * 50), 0)).toBeLessThan(25);
    expect(worst(late.slice(60 * 50), 2)).toBeLessThan(5);
  });

  test('lines that come late by up to half a second now and then do not pull the times along', () => {
    const random = randomFrom(11);
    const { bench, trueMs } = run(120, { delay: () => 1 + (random() < 0.05 ? 500 * random() : 3 * random()) });
    expect(worst(errors(bench, trueMs).slice(30 * 50), 1)).toBeLessThan(3);
  });

  test('after the service was held up for five seconds, the backlog is dated when it was sent', () => {
    const { bench, trueMs } = run(60, { delay: (ms) => (ms > 30_000 && ms < 35_000 ? 35_000 - ms : 1) });
    const late = errors(bench, trueMs);
    expect(worst(late.slice(29 * 50), 1)).toBeLessThan(2);
  });

  test('a delay that comes to stay is forgotten within minutes, without a jump', () => {
    const { bench, trueMs } = run(900, { delay: (ms) => (ms > 60_000 ? 200 : 1) });
    const late = errors(bench, trueMs);
    expect(late[120 * 50]).toBeLessThan(20);
    expect(late.at(-1)).toBeGreaterThan(180);
    const steps = bench.readings.slice(500).map((r, i, all) => (i === 0 ? 20 : r.timeMs - all[i - 1]!.timeMs));
    expect(Math.max(...steps)).toBeLessThan(31);
  });

  test('a device that stood still for ten seconds is caught up with', () => {
    const bench = new Bench();
    for (let i = 0; i < 6000; i++) bench.lines([line(1000 + i * 20, i)], START_MS + i * 20 + (i < 3000 ? 0 : 10_000));
    const last = bench.readings.at(-1)!;
    expect(Math.abs(last.timeMs - (START_MS + 5999 * 20 + 10_000))).toBeLessThan(5);
    expect(bench.intake.counters().restarts).toBe(0);
  });

  test.each([
    ['ms', WRAP - 10_000, 1],
    ['us', WRAP - 10_000_000, 1000],
  ] as const)('%s wraps at 2^32 without a trace', (unit, from, perMs) => {
    const bench = new Bench();
    for (let i = 0; i < 1500; i++) bench.lines([line(from + i * 20 * perMs, i, unit)], START_MS + i * 20);
    const steps = bench.readings.map((r, i, all) => (i === 0 ? 20 : r.timeMs - all[i - 1]!.timeMs));
    expect(spread(steps)).toBeLessThan(0.01);
    expect(bench.intake.counters()).toMatchObject({ restarts: 0, lost: 0, readings: 1500 });
  });

  test('us that wraps twice while the cable is out is told by the arrival', () => {
    const bench = new Bench();
    for (let i = 0; i < 100; i++) bench.lines([line(i * 20_000, i, 'us')], START_MS + i * 20);
    const outMs = (2 * WRAP) / 1000 + 60_000;
    bench.intake.opened();
    for (let i = 0; i < 100; i++) {
      bench.lines([line(2_000_000 + outMs * 1000 + i * 20_000, 400_000 + i, 'us')], START_MS + 2000 + outMs + i * 20);
    }
    expect(bench.readings[100]!.restarted).toBe(false);
    expect(Math.abs(bench.readings[100]!.timeMs - (START_MS + 2000 + outMs))).toBeLessThan(1);
  });

  test('a step back by more than a second that is no wrap means that the device restarted', () => {
    const bench = new Bench();
    for (let i = 0; i < 200; i++) bench.lines([line(3_000_000_000 + i * 20, 500_000 + i)], START_MS + i * 20);
    for (let i = 0; i < 200; i++) bench.lines([line(300 + i * 20, i)], START_MS + 6000 + i * 20);
    expect(bench.readings.map((reading) => reading.restarted).indexOf(true)).toBe(200);
    expect(bench.readings[200]!.lostBefore).toBe(0);
    expect(bench.readings[200]!.timeMs).toBeCloseTo(START_MS + 6000, 0);
    expect(bench.intake.counters()).toMatchObject({ restarts: 1, lost: 0, readings: 400 });
  });

  test('a device that was without power for an hour restarted, though its clock may now show more', () => {
    const bench = new Bench();
    for (let i = 0; i < 100; i++) bench.lines([line(1000 + i * 20, i)], START_MS + i * 20);
    bench.intake.opened();
    for (let i = 0; i < 100; i++) bench.lines([line(5000 + i * 20, 250 + i)], START_MS + 3_600_000 + i * 20);
    expect(bench.readings[100]!.restarted).toBe(true);
    expect(bench.readings[100]!.timeMs).toBeCloseTo(START_MS + 3_600_000, 0);
  });

  test('a cable out for a minute is no restart, and the gap is seen', () => {
    const bench = new Bench();
    for (let i = 0; i < 100; i++) bench.lines([line(1000 + i * 20, i)], START_MS + i * 20);
    bench.intake.opened();
    for (let i = 3100; i < 3200; i++) bench.lines([line(1000 + i * 20, i)], START_MS + i * 20);
    expect(bench.readings[100]).toMatchObject({ restarted: false, lostBefore: 3000 });
    expect(bench.readings[100]!.timeMs).toBeCloseTo(START_MS + 62_000, 0);
  });

  test('times are strictly increasing, whatever comes', () => {
    const random = randomFrom(3);
    const bench = new Bench();
    let uptime = 1000;
    let arrival = START_MS;
    for (let i = 0; i < 5000; i++) {
      uptime = random() < 0.01 ? Math.floor(random() * WRAP) : (uptime + Math.floor(random() * 40)) % WRAP;
      arrival += random() * 40;
      bench.lines([checked(`ms=${uptime} d=1.750`)], arrival);
    }
    expect(bench.readings.length).toBeGreaterThan(4000);
    const steps = bench.readings.slice(1).map((reading, i) => reading.timeMs - bench.readings[i]!.timeMs);
    expect(Math.min(...steps)).toBeGreaterThan(0);
  });
});

describe('line numbers', () => {
  test('a jump tells how many lines were lost', () => {
    const numbers = [5, 6, 9, 10, 11, 41];
    const bench = new Bench().lines(numbers.map((n) => line(n * 20, n)));
    expect(bench.readings.map((reading) => reading.lostBefore)).toEqual([0, 0, 2, 0, 0, 29]);
    expect(bench.intake.counters().lost).toBe(31);
  });

  test('n wraps at 2^32 without a loss', () => {
    const bench = new Bench().lines([WRAP - 2, WRAP - 1, WRAP, WRAP + 2].map((n, i) => line(1000 + i * 20, n)));
    expect(bench.readings.map((reading) => reading.lostBefore)).toEqual([0, 0, 0, 1]);
    expect(bench.intake.counters().restarts).toBe(0);
  });

  test('n that begins anew while the clock runs on is a counter that was reset, not a restart', () => {
    const bench = new Bench().lines([65_534, 65_535, 0, 1].map((n, i) => line(1000 + i * 20, n)));
    expect(bench.intake.counters()).toMatchObject({ restarts: 0, lost: 0, readings: 4 });
  });

  test('n that begins anew on a board without a clock means that it restarted', () => {
    const bench = new Bench().lines([50, 51, 0, 1].map((n) => checked(`n=${n} d=1.750`)));
    expect(bench.readings.map((reading) => reading.restarted)).toEqual([false, false, true, false]);
  });
});

describe('on a live line without a device clock', () => {
  test('the arrival dates the reading', () => {
    const bench = new Bench();
    for (let i = 0; i < 50; i++) bench.lines([checked('d=1.750')], START_MS + i * 20);
    expect(bench.readings.map((reading) => reading.timeMs - START_MS)).toEqual(
      Array.from({ length: 50 }, (_, i) => i * 20),
    );
  });

  test('lines that arrive in one piece are set apart evenly', () => {
    const bench = new Bench();
    for (let i = 0; i < 50; i++) bench.lines([checked('d=1.750')], START_MS + i * 20);
    bench.lines(Array(250).fill(checked('d=1.750')), START_MS + 980 + 5000);
    const steps = bench.readings.slice(50).map((r, i, all) => r.timeMs - (all[i - 1] ?? bench.readings[49]!).timeMs);
    expect(spread(steps)).toBeLessThan(0.01);
    expect(bench.readings.at(-1)!.timeMs).toBeCloseTo(START_MS + 5980, 3);
  });
});

describe('on a recorded line', () => {
  const offsets = (bench: Bench) => bench.readings.map((reading) => reading.timeMs - START_MS);

  test('the device clock alone dates, from the given start', () => {
    expect(offsets(new Bench().lines([7000, 7020, 7041, 7060].map((ms, n) => line(ms, n))))).toEqual([0, 20, 41, 60]);
  });

  test('a long jump forward stays as a gap', () => {
    const lines = [0, 20, 40, 3_600_040, 3_600_060].map((ms, i) => line(ms, i < 3 ? i : i + 180_000));
    expect(offsets(new Bench().lines(lines))).toEqual([0, 20, 40, 3_600_040, 3_600_060]);
  });

  test('a restart leaves a silence of two seconds, which the log does not tell, or of the uptime that it comes back with', () => {
    const before = Array.from({ length: 30 }, (_, i) => line(900_000 + i * 25, 100 + i));
    const after = Array.from({ length: 5 }, (_, i) => line(300 + i * 25, i));
    const bench = new Bench().lines([...before, ...after]);
    expect(bench.readings[30]!.restarted).toBe(true);
    expect(offsets(bench).slice(29)).toEqual([725, 2725, 2750, 2775, 2800, 2825]);
    const slow = Array.from({ length: 5 }, (_, i) => line(4500 + i * 25, i));
    expect(offsets(new Bench().lines([...before, ...slow])).slice(29, 32)).toEqual([725, 5225, 5250]);
  });

  test('without a clock the nominal rate dates, and lost lines take their time', () => {
    const bench = new Bench({ recordedRateHz: 10 }).lines([0, 1, 2, 5, 6].map((n) => checked(`n=${n} d=1.750`)));
    expect(offsets(bench)).toEqual([0, 100, 200, 500, 600]);
  });

  test('wraps are no restart', () => {
    const bench = new Bench().lines([0, 1, 2, 3].map((i) => line(WRAP - 30 + i * 20, i)));
    expect(offsets(bench)).toEqual([0, 20, 40, 60]);
    expect(bench.intake.counters().restarts).toBe(0);
  });
});

describe('a run that goes on', () => {
  test('is dated after its last reading, though this machine’s clock is behind', () => {
    const notBeforeMs = START_MS + 60_000;
    const live = new Bench({ notBeforeMs });
    for (let i = 0; i < 50; i++) live.lines([line(i * 20, i)], START_MS + i * 20);
    const steps = live.readings.map((r, i, all) => (i === 0 ? 20 : r.timeMs - all[i - 1]!.timeMs));
    expect(live.readings[0]!.timeMs).toBeGreaterThan(notBeforeMs);
    expect(spread(steps)).toBeLessThan(0.01);
    const recorded = new Bench({ notBeforeMs }).lines([0, 20, 40].map((ms, n) => line(ms, n)));
    expect(recorded.readings.map((reading) => reading.timeMs - notBeforeMs)).toEqual([20, 40, 60]);
  });
});
