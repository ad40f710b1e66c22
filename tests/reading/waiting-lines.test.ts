/** Lines that waited in the kernel while the process was stopped (a suspended machine, SIGSTOP), and all arrive afterwards. */
import { describe, expect, it } from 'vitest';
import { Bench, START_MS } from './intake-bench.ts';

const PERIOD_MS = 20;
const BEFORE_S = 60;
const STOPPED_S = 60;
const AFTER_S = 40;
/** A stopped process finds so many lines in one chunk, until the kernel's buffers are empty. */
const LINES_A_CHUNK = 900;

type Form = (i: number) => string;

/** @param jitterMs each line arrives up to so late */
function feed(form: Form, jitterMs: number, beforeS = BEFORE_S): Bench {
  const bench = new Bench();
  const line = (i: number) => `${form(i)}\n`;
  const stopAt = (beforeS * 1000) / PERIOD_MS;
  const resumeAt = ((beforeS + STOPPED_S) * 1000) / PERIOD_MS;
  const end = ((beforeS + STOPPED_S + AFTER_S) * 1000) / PERIOD_MS;
  const late = (i: number) => ((i * 7) % 11) * (jitterMs / 10);
  for (let i = 0; i < stopAt; i++) bench.text(line(i), START_MS + i * PERIOD_MS + late(i));
  let arrivalMs = START_MS + resumeAt * PERIOD_MS;
  for (let from = stopAt; from < resumeAt; from += LINES_A_CHUNK) {
    const chunk = Array.from({ length: Math.min(LINES_A_CHUNK, resumeAt - from) }, (_, i) => line(from + i));
    bench.text(chunk.join(''), arrivalMs);
    arrivalMs += 2;
  }
  for (let i = resumeAt; i < end; i++) {
    bench.text(line(i), Math.max(arrivalMs, START_MS + i * PERIOD_MS + late(i)));
  }
  // Without a checksum or clock the first line of a live cable is not used.
  expect(bench.readings.length).toBeGreaterThanOrEqual(end - 1);
  return bench;
}

function longestStepMs(bench: Bench): number {
  let longest = 0;
  for (let i = 1; i < bench.readings.length; i++) {
    longest = Math.max(longest, bench.reading(i).timeMs - bench.reading(i - 1).timeMs);
  }
  return longest;
}

const forms: readonly (readonly [string, Form])[] = [
  ['a clock and numbers', (i) => `ms=${i * PERIOD_MS} n=${i} d=1.750 v=35`],
  ['a clock', (i) => `ms=${i * PERIOD_MS} d=1.750 v=35`],
  ['numbers only', (i) => `n=${i} d=1.750 v=35`],
  ['neither', () => 'd=1.750 v=35'],
];

describe('lines that a process stopped for a minute reads late', () => {
  it.each(forms)('are dated when they were sent, if they have %s', (_what, form) => {
    const bench = feed(form, 4);
    const first = bench.readings.length === 8000 ? 0 : 1;
    const errors = bench.readings.map(({ timeMs }, i) => timeMs - START_MS - (i + first) * PERIOD_MS);
    // A gap of half a second would count as strand that was not measured.
    expect(longestStepMs(bench)).toBeLessThan(400);
    expect(Math.max(...errors.map(Math.abs))).toBeLessThan(400);
    expect(bench.reading(-1).timeMs - bench.reading(0).timeMs).toBeCloseTo((7999 - first) * PERIOD_MS, -1.5);
  });

  it('do not look like a slow clock if the line was opened shortly before', () => {
    const bench = feed((i) => `ms=${i * PERIOD_MS} n=${i} d=1.750 v=35`, 4, 5);
    const errors = bench.readings.map(({ timeMs }, i) => timeMs - START_MS - i * PERIOD_MS);
    // In five seconds the jitter of the arrivals hides a drift of a thousandth.
    expect(Math.max(...errors.map(Math.abs))).toBeLessThan(50);
  });

  it('keep a pause of the board that its clock shows', () => {
    const bench = feed((i) => `ms=${i * PERIOD_MS + (i > 4000 ? 5000 : 0)} d=1.750 v=35`, 4);
    expect(longestStepMs(bench)).toBeGreaterThan(4900);
  });
});

it('spreads the lines of a slow board by its own pace, and counts those whose times are not certain', () => {
  const bench = new Bench();
  for (let i = 0; i < 60; i++) bench.text('d=1.750 v=35\n', START_MS + i * 500);
  const arrivalMs = START_MS + (59 + 80) * 500;
  bench.text('d=1.750 v=35\n'.repeat(40), arrivalMs);
  bench.text('d=1.750 v=35\n'.repeat(40), arrivalMs + 2);
  expect(longestStepMs(bench)).toBeLessThan(510);
  expect(bench.intake.spreadReadings).toBeGreaterThanOrEqual(40);
});
