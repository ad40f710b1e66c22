/** Device clocks and line numbers as sketches really count: in few bits, signed, in seconds, with a timer that was changed. */
import { describe, expect, it } from 'vitest';
import { Bench, checked, START_MS } from './intake-bench.ts';

const PERIOD_MS = 20;
const SECONDS = 150;

type Sent = (ms: number, i: number) => string;
type Arrival = (ms: number) => number;

const direct: Arrival = (ms) => ms + 1;
const inBunches: Arrival = (ms) => Math.ceil(ms / 2000) * 2000;
/** The process was stopped from 61 s to 90 s. */
const stopped: Arrival = (ms) => (ms > 61_000 && ms < 90_000 ? 90_000 : ms + 1);

/** A board at 50 Hz whose lines arrive together if they arrive at the same time. */
function feed(sent: Sent, arrival: Arrival, roles: ConstructorParameters<typeof Bench>[0] = {}): Bench {
  const bench = new Bench(roles);
  let chunk = '';
  let at = 0;
  for (let i = 0; i < (SECONDS * 1000) / PERIOD_MS; i++) {
    const ms = i * PERIOD_MS;
    if (chunk !== '' && arrival(ms) !== at) {
      bench.text(chunk, START_MS + at);
      chunk = '';
    }
    at = arrival(ms);
    chunk += `${checked(`${sent(ms, i)} d=1.750 number=${i}`)}\n`;
  }
  return bench.text(chunk, START_MS + at);
}

/** Errors of the dated times from then on, ms. */
function errorsFrom(bench: Bench, fromMs: number): number[] {
  const sentMs = bench.signal('number').map((i) => i * PERIOD_MS);
  return sentMs.map((ms, i) => bench.reading(i).timeMs - START_MS - ms).filter((_, i) => sentMs[i]! >= fromMs);
}

/** Everything was read, nothing counts as lost or not measured, and no device restarted. */
function expectWhole(bench: Bench, errorMs: number, fromMs = 0): void {
  expect(bench.dropped).toEqual([]);
  expect(bench.readings).toHaveLength((SECONDS * 1000) / PERIOD_MS);
  const from = fromMs / PERIOD_MS;
  expect(bench.readings.slice(from).filter(({ restarted }) => restarted)).toEqual([]);
  const steps = bench.readings.slice(from + 1).map((reading, i) => reading.timeMs - bench.reading(from + i).timeMs);
  expect(Math.max(...steps)).toBeLessThan(400);
  expect(bench.readings.slice(from).every(({ lostBefore }) => lostBefore === 0)).toBe(true);
  expect(Math.max(...errorsFrom(bench, fromMs).map(Math.abs))).toBeLessThan(errorMs);
}

const int16 = (value: number) => (value << 16) >> 16;
const int32 = (value: number) => value | 0;

const counters: readonly (readonly [string, Sent])[] = [
  ['ms as a signed number of 32 bits', (ms) => `ms=${int32(2 ** 31 - 65_000 + ms)}`],
  ['us as a signed number of 32 bits', (ms) => `us=${int32(2 ** 31 - 65_000_000 + ms * 1000)}`],
  ['ms as a number of 64 bits', (ms) => `ms=${2 ** 32 - 65_000 + ms}`],
  ['us as a number of 64 bits', (ms) => `us=${2 ** 32 - 65_000_000 + ms * 1000}`],
  ['ms as a number of 16 bits', (ms) => `ms=${ms % 2 ** 16}`],
  ['ms as a signed number of 16 bits', (ms) => `ms=${int16(ms)}`],
  ['us with 30 bits', (ms) => `us=${(2 ** 30 - 65_000_000 + ms * 1000) % 2 ** 30}`],
  ['ms with 29 bits', (ms) => `ms=${(2 ** 29 - 65_000 + ms) % 2 ** 29}`],
  ['ms with a fraction', (ms) => `ms=${(ms + 0.25).toFixed(2)}`],
  ['n as a signed number of 16 bits', (_ms, i) => `n=${int16(2 ** 15 - 100 + i)}`],
  ['n as a number of 16 bits', (_ms, i) => `n=${(2 ** 16 - 100 + i) % 2 ** 16}`],
  ['n as a number of 8 bits', (_ms, i) => `n=${i % 256}`],
];

describe('a counter that wraps', () => {
  it.each(counters)('loses nothing and is no restart: %s', (_what, sent) => {
    expectWhole(feed(sent, direct), 30);
    expectWhole(feed(sent, inBunches), 30, 10_000);
    expectWhole(feed(sent, stopped), 30);
  });

  it('is no restart in a recorded log', () => {
    const bench = new Bench();
    for (let i = 0; i < 5000; i++) bench.lines([`ms=${int16(i * PERIOD_MS)} d=1.750`]);
    expect(bench.dropped).toEqual([]);
    expect(bench.reading(-1).timeMs).toBe(START_MS + 4999 * PERIOD_MS);
  });

  it('is still a restart if the board was silent meanwhile', () => {
    const bench = new Bench();
    const restartAt = 65_000;
    for (let ms = 0; ms < restartAt; ms += PERIOD_MS) bench.lines([checked(`ms=${ms} d=1.750`)], START_MS + ms);
    for (let ms = 300; ms < 5000; ms += PERIOD_MS)
      bench.lines([checked(`ms=${ms} d=1.750`)], START_MS + restartAt + 2000 + ms);
    expect(bench.intake.counters().restarts).toBe(1);
    expect(bench.reading(-1).timeMs).toBeCloseTo(START_MS + restartAt + 2000 + 4980, -1);
  });
});

const wrongClocks: readonly (readonly [string, Sent])[] = [
  ['stands still from the start', () => 'ms=4711'],
  ['stops after a minute', (ms) => `ms=${Math.min(ms, 60_000)}`],
  ['stops for half a minute', (ms) => `ms=${ms < 60_000 ? ms : Math.max(60_000, ms - 30_000)}`],
  ['counts whole seconds', (ms) => `ms=${Math.floor(ms / 1000) * 1000}`],
  ['counts tenths of a second', (ms) => `ms=${Math.floor(ms / 100) * 100}`],
  ['is a tenth slow', (ms) => `ms=${Math.floor(ms * 0.9)}`],
  ['is a tenth fast', (ms) => `ms=${Math.floor(ms * 1.1)}`],
  ['runs at half the speed', (ms) => `ms=${Math.floor(ms / 2)}`],
  ['runs 16 times too slow', (ms) => `ms=${Math.floor(ms / 16)}`],
  ['runs twice too fast', (ms) => `ms=${Math.floor(ms * 2)}`],
  ['runs 64 times too fast', (ms) => `ms=${Math.floor(ms * 64)}`],
  ['counts microseconds as ms', (ms) => `ms=${(ms * 1000) % 2 ** 32}`],
];

describe('a clock that does not keep time', () => {
  it.each(wrongClocks)('does not date the readings: it %s', (what, sent) => {
    // Two comparisons of ten seconds show that it is wrong.
    expectWhole(feed(sent, direct), 60, 22_000);
    // Whether a clock stands still is not known while no line is read.
    if (!what.includes('half a minute')) expectWhole(feed(sent, stopped), 100, 22_000);
  });

  it('does not let the times of lines in bunches lag behind', () => {
    expectWhole(
      feed((ms) => `ms=${Math.floor(ms / 2)}`, inBunches),
      100,
      32_000,
    );
  });

  it('dates no reading after its arrival', () => {
    const bench = feed((ms) => `ms=${ms * 8}`, direct);
    expect(Math.max(...errorsFrom(bench, 0))).toBeLessThan(150);
  });

  it('dates the readings again once it keeps time', () => {
    const bench = new Bench();
    const late = (i: number) => (i * 7) % 16;
    for (let i = 0; i < 6000; i++) {
      const ms = i * PERIOD_MS;
      const clock = ms < 40_000 ? ms / 2 : ms - 20_000;
      bench.lines([checked(`ms=${Math.floor(clock)} d=1.750`)], START_MS + ms + late(i));
    }
    const steps = bench.readings.slice(5001).map((reading, i) => reading.timeMs - bench.reading(5000 + i).timeMs);
    expect(Math.max(...steps) - Math.min(...steps)).toBeLessThan(1);
  });

  it.each([
    ['went back from more than 32 bits', 6_000_000_000, 0],
    ['was set to the time of the world', 500_000, 1_770_000_000_000_000],
  ])('goes on after two seconds where it %s in a recorded log, as after a restart', (_, fromUs, toUs) => {
    const bench = new Bench();
    for (let i = 0; i < 200; i++) bench.lines([`us=${(i < 100 ? fromUs : toUs) + (i % 100) * 20_000} n=${i} d=1.750`]);
    expect(bench.readings).toHaveLength(200);
    expect(bench.intake.counters().restarts).toBe(1);
    expect(bench.reading(100).timeMs - bench.reading(99).timeMs).toBeCloseTo(2000);
    expect(bench.reading(-1).timeMs - START_MS).toBeCloseTo(99 * 20 + 2000 + 99 * 20);
  });

  it('counts whole seconds in a recorded log', () => {
    const bench = new Bench({ roles: [{ name: 's', role: 'ms', factor: 1000, offset: 0 }] });
    for (let i = 0; i < 500; i++) bench.lines([`s=${Math.floor(i / 10)} d=1.750`]);
    const steps = bench.readings.slice(200).map((reading, i) => reading.timeMs - bench.reading(199 + i).timeMs);
    expect(Math.max(...steps)).toBeLessThan(110);
    expect(bench.reading(-1).timeMs - START_MS).toBeCloseTo(49_900, -2);
    expect(bench.readings.slice(200).every(({ lostBefore }) => lostBefore === 0)).toBe(true);
  });
});

it('follows the pace of a board without a clock that became slower, if its lines come in bunches', () => {
  const bench = new Bench();
  let ms = 0;
  for (const [periodMs, count] of [
    [20, 3000],
    [50, 2400],
  ] as const) {
    const lines = 2000 / periodMs;
    for (let i = 0; i < count; i += lines) {
      ms += 2000;
      bench.text(`${checked('d=1.750')}\n`.repeat(lines), START_MS + ms);
    }
  }
  expect(Math.abs(bench.reading(-1).timeMs - START_MS - ms)).toBeLessThan(60);
  const steps = bench.readings.slice(-1000).map((reading, i, of) => reading.timeMs - (of[i - 1] ?? reading).timeMs);
  expect(Math.max(...steps)).toBeLessThan(400);
});

it('dates the lines of a board that restarted while they waited one after the other', () => {
  const bench = new Bench();
  const restartMs = 80_000;
  const bootMs = 2300;
  let waiting = '';
  const sent: number[] = [];
  for (let ms = 0; ms < 120_000; ms += PERIOD_MS) {
    if (ms > restartMs && ms < restartMs + bootMs) continue;
    const clock = ms <= restartMs ? ms : ms - restartMs - 2000;
    const line = `${checked(`ms=${clock} d=1.750`)}\n`;
    sent.push(ms);
    if (ms >= 60_000 && ms < 90_000) waiting += line;
    else {
      if (waiting !== '') bench.text(waiting, START_MS + 90_000);
      waiting = '';
      bench.text(line, START_MS + Math.max(90_000 * Number(ms >= 60_000), ms));
    }
  }
  const errors = bench.readings.map(({ timeMs }, i) => timeMs - START_MS - sent[i]!);
  expect(Math.max(...errors.map(Math.abs))).toBeLessThan(400);
});
