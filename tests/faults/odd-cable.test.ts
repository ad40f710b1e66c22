/** What a bad cable, a bad board or a wrong sketch sends, from the bytes to the sections. */
import { afterEach, describe, expect, it } from 'vitest';
import { seeded } from '../chance.ts';
import { casesOf } from '../long-check.ts';
import { type WatchedLine, watchLine } from '../monitor/watched-line.ts';
import { Bench, boardLine, START_MS } from '../reading/intake-bench.ts';

let line: WatchedLine | null = null;
afterEach(async () => {
  await line?.remove();
  line = null;
});

const PERIOD_MS = 20;
const KERNEL_CHUNK = 65_536;
const WRAP_MS = 2 ** 32;

/** A megabyte of printable characters, with a line end now and then. */
function nonsense(): string {
  const random = seeded(5);
  const character = () => (random() < 0.02 ? '\n' : String.fromCharCode(33 + Math.floor(94 * random())));
  return Array.from({ length: 1_000_000 }, character).join('');
}

describe('a flood', () => {
  it.each(
    casesOf(
      [
        ['bytes without a line end', '\u00ff\u0001x'],
        ['lines that are too long', `d=1.75 ${'x'.repeat(600)}\n`],
        ['lines without sense', nonsense()],
      ],
      1,
    ),
  )('of ten megabytes of %s is counted, and the line is read after it', (_what, piece) => {
    const bench = new Bench();
    for (let i = 0; i < 50; i++) bench.text(`${boardLine(i)}\n`, START_MS + i * PERIOD_MS);
    const flood = Buffer.from(piece.repeat(Math.ceil(1e6 / piece.length)), 'latin1');
    for (let second = 1; second <= 10; second++) {
      for (let from = 0; from < flood.length; from += KERNEL_CHUNK) {
        bench.bytes(flood.subarray(from, from + KERNEL_CHUNK), START_MS + second * 1000 + from / 1000);
      }
    }
    bench.text('\n', START_MS + 11_000);
    const read = bench.readings.length;
    expect(bench.dropped.length).toBeGreaterThan(0);
    expect(bench.intake.droppedLines.length).toBeLessThan(10);
    for (let i = 550; i < 650; i++) bench.text(`${boardLine(i)}\n`, START_MS + i * PERIOD_MS);
    // A line or two confirm that the board goes on.
    expect(bench.readings.length - read).toBeGreaterThanOrEqual(95);
    // Chance repeats a few names.
    expect(bench.names.slice(0, 2)).toEqual(['d', 't1']);
    expect(bench.names.length).toBeLessThan(40);
  });
});

it('a board that restarts every minute counts each restart, and its times stay in order and on time', () => {
  const bench = new Bench();
  const noise = 'ets Jul 29 2019 12:21:46\nrst:0x1 (POWERON_RESET)\n\u00fe\u0000\u00ff\n# bench board 1.2\n';
  const worstMs: number[] = [];
  for (let minute = 0; minute < 10; minute++) {
    const bootMs = START_MS + minute * 60_000;
    bench.bytes(Buffer.from(noise, 'latin1'), bootMs + 300);
    for (let i = 100; i < 2950; i++) {
      const count = bench.readings.length;
      bench.text(`${boardLine(i)}\n`, bootMs + i * PERIOD_MS + (i % 3));
      if (bench.readings.length > count) worstMs.push(Math.abs(bench.reading(-1).timeMs - bootMs - i * PERIOD_MS));
    }
  }
  expect(bench.intake.restarts).toBe(9);
  expect(bench.names).toEqual(['d', 't1']);
  // Each restart costs the lines that confirm it.
  expect(bench.readings.length).toBeGreaterThan(10 * 2850 - 10 * 5);
  expect(Math.max(...worstMs)).toBeLessThan(60);
  for (let i = 1; i < bench.readings.length; i++) {
    expect(bench.reading(i).timeMs).toBeGreaterThan(bench.reading(i - 1).timeMs);
  }
});

it('a blob during which the clock of the board wraps is one blob of its true length', () => {
  line = watchLine({ settleLengthMm: 1000, gaugeToWinderMm: 500 });
  const speedMmPerS = 35;
  const lengthOf = (from: number, to: number) => ((to - from) * PERIOD_MS * speedMmPerS) / 1000;
  for (let i = 0; i < 6000; i++) {
    // The wrap is in the middle of the blob, at line 5000.
    const ms = (WRAP_MS + (i - 5000) * PERIOD_MS) % WRAP_MS;
    const isBlob = i >= 4985 && i < 5015;
    const diameterMm = (isBlob ? 2.2 : 1.75) + 0.004 * Math.sin(i * 12.9898);
    line.feed(`ms=${ms} n=${i} d=${diameterMm.toFixed(3)} v=${speedMmPerS}\n`);
  }
  const { sections, last } = line.monitor.snapshot();
  const blobs = sections.filter(({ kind }) => kind === 'blob');
  expect(blobs).toHaveLength(1);
  expect(blobs[0]!.toMm - blobs[0]!.fromMm).toBeCloseTo(lengthOf(4985, 5015), -0.5);
  expect(sections.filter(({ kind }) => kind === 'unknown')).toEqual([]);
  expect(last!.gaugeMm).toBeGreaterThan(0);
});
