/**
 * A microcontroller that dies takes its pseudo-terminal with it, and the reader hangs up. After that the serial binding
 * sometimes spins on the dead port and never reports that it is closed. What happens depends on what the reader was doing
 * at that instant, so the board is killed many times, each time with a reader in a fresh process.
 */
import { type ChildProcess, fork } from 'node:child_process';
import { once } from 'node:events';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { fileURLToPath } from 'node:url';
import { build } from 'vite';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { type EmulatedBoard, startEmulatedBoard } from '../microcontroller/emulated-board.ts';
import { until } from '../source/collecting-listener.ts';
import type { ReaderReport } from './serial-hangup-reader.ts';

const TRIALS = 16;
const AT_A_TIME = 4;
const SILENCE_MS = 1000;
/** The silence, at most two pauses (0.25 and 0.5 s) while the board is gone, and allowance for a busy machine. */
const BACK_WITHIN_MS = SILENCE_MS + 750 + 4500;
const SPINNING_SHARE = 0.2;

// Within the project, so that the program finds its packages there.
const OUT = fileURLToPath(new URL('../../.build/serial-hangup', import.meta.url));
const folder = mkdtempSync(join(tmpdir(), 'hangup-'));
let program = '';

beforeAll(async () => {
  const entry = fileURLToPath(new URL('serial-hangup-reader.ts', import.meta.url));
  await build({
    configFile: false,
    logLevel: 'silent',
    build: { ssr: entry, outDir: OUT, emptyOutDir: true, target: 'node20', minify: false },
  });
  program = join(OUT, 'serial-hangup-reader.js');
  // Builds firmware and emulator once, before several boards are started at a time.
  await (await startEmulatedBoard({ linkPath: join(folder, 'first') })).stop();
}, 120_000);

afterAll(() => rmSync(folder, { recursive: true }));

interface Outcome {
  readonly backAfterMs: number;
  readonly cpuShare: number;
  /** The port was closed because of the silence, not by an event. */
  readonly bySilence: boolean;
}

async function trial(index: number): Promise<Outcome> {
  const linkPath = join(folder, `board${index}`);
  let board: EmulatedBoard | null = await startEmulatedBoard({ linkPath });
  const reader = fork(program, [linkPath, String(SILENCE_MS)], { execArgv: [] });
  const reports: ReaderReport[] = [];
  reader.on('message', (report) => reports.push(report as ReaderReport));
  const last = () => reports.at(-1);
  try {
    await until('the first lines came', () => (last()?.readings ?? 0) > 10, 20_000);
    // A line takes 6 ms of every 20: each kill hits another place in it.
    await sleep(7 * index);
    await board.kill();
    const textBefore = last()?.text.length ?? 0;
    await sleep(20 + ((index * 37) % 300));
    const readingsBefore = last()?.readings ?? 0;
    board = await startEmulatedBoard({ linkPath });
    const startedMs = performance.now();
    // Lines in transit when the board died may still be counted.
    await until('lines came again', () => (last()?.readings ?? 0) > readingsBefore + 10, 20_000);
    const backAfterMs = performance.now() - startedMs;
    const bySilence = /nothing more arrived/.test(last()?.text.slice(textBefore) ?? '');
    await sleep(1500);
    return { backAfterMs, cpuShare: cpuShareOfLastSecond(reports), bySilence };
  } finally {
    await end(reader);
    await board?.stop();
  }
}

function cpuShareOfLastSecond(reports: readonly ReaderReport[]): number {
  const to = reports.at(-1);
  const from = reports.findLast((report) => to !== undefined && to.atMs - report.atMs >= 1000);
  if (to === undefined || from === undefined) throw new Error('the reader did not report for a second');
  return (to.cpuMs - from.cpuMs) / (to.atMs - from.atMs);
}

/** Asks it to stop. A process that cannot end has something left open. */
async function end(reader: ChildProcess): Promise<void> {
  if (reader.exitCode !== null || reader.signalCode !== null) return;
  const gone = once(reader, 'exit');
  reader.send('stop');
  const stuck = setTimeout(() => reader.kill('SIGKILL'), 5000);
  const [, signal] = await gone;
  clearTimeout(stuck);
  expect(signal).toBeNull();
}

test(`a board that is killed ${TRIALS} times is read again each time, and no reader spins`, async () => {
  const outcomes: Outcome[] = [];
  let next = 0;
  await Promise.all(
    Array.from({ length: AT_A_TIME }, async () => {
      while (next < TRIALS) outcomes.push(await trial(next++));
    }),
  );
  const slowest = Math.max(...outcomes.map((outcome) => outcome.backAfterMs));
  const busiest = Math.max(...outcomes.map((outcome) => outcome.cpuShare));
  const bySilence = outcomes.filter((outcome) => outcome.bySilence).length;
  console.error(
    `${outcomes.length} kills: back after at most ${slowest.toFixed(0)} ms, at most ${(100 * busiest).toFixed(1)} % of a core; ` +
      `${bySilence} ports never reported that they were closed`,
  );
  expect(outcomes).toHaveLength(TRIALS);
  expect(slowest).toBeLessThan(BACK_WITHIN_MS);
  expect(busiest).toBeLessThan(SPINNING_SHARE);
}, 240_000);
