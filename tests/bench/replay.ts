import { mkdtempSync, rmSync, statSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { ReadlineParser } from '@serialport/parser-readline';
import Database from 'better-sqlite3';
import { MonotonicClock } from '../../server/monitor/clock.ts';
import { createLineMonitor } from '../../server/monitor/line-monitor.ts';
import type { Log } from '../../server/monitor/log.ts';
import { defaultLineSettings } from '../../server/settings/check-line-settings.ts';
import type { Source, SourceListener } from '../../server/source/source.ts';
import { openStore } from '../../server/store/index.ts';
import { pieces, recordedLines } from './recorded-lines.ts';
import type { BenchRow } from './report.ts';

/** A night of eight hours at 50 readings/s. */
const READINGS = 1_440_000;
/** Slow alternatives are measured on this many only. */
const ROWS = 300_000;
const TARGET_READINGS_PER_S = 150_000;
const TARGET_S = 10;
const QUIET: Log = { info: () => {}, warn: () => {}, error: (message) => console.error(message) };

/** Replay a recorded night: the whole pipeline, compared with the bare readline parser and plain row inserts. */
export async function benchReplay(): Promise<BenchRow[]> {
  const bytes = recordedLines(READINGS);
  const bare = await readlineOnly(bytes);
  const rows = plainRows(bytes.subarray(0, Math.ceil((bytes.length * ROWS) / READINGS)));
  const whole = await wholePipeline(bytes);
  return [
    {
      what: 'replay through the whole pipeline (parse, judge, alarm, store)',
      value: whole.perS,
      unit: 'readings/s',
      target: `≥ ${TARGET_READINGS_PER_S.toLocaleString('en')}`,
      met: whole.perS >= TARGET_READINGS_PER_S,
    },
    {
      what: `the whole night of ${READINGS.toLocaleString('en')} readings`,
      value: READINGS / whole.perS,
      unit: 's',
      target: `≤ ${TARGET_S}`,
      met: READINGS / whole.perS <= TARGET_S,
    },
    { what: 'the same, by processor time of the whole process', value: whole.perCpuS, unit: 'readings/CPU s' },
    { what: 'bare readline parser on the same bytes', value: bare, unit: 'lines/s', ratio: whole.perS / bare },
    {
      what: 'plain SQLite row per reading, values given',
      value: rows.perS,
      unit: 'rows/s',
      ratio: whole.perS / rows.perS,
    },
    {
      what: 'bytes on disk per reading, summaries included',
      value: whole.bytes,
      unit: 'B',
      target: '≤ 6',
      met: whole.bytes <= 6,
    },
    {
      what: 'bytes per row in the plain table',
      value: rows.bytes,
      unit: 'B',
      ratio: whole.bytes / rows.bytes,
      target: 'ratio ≤ 0.125',
      met: whole.bytes / rows.bytes <= 0.125,
    },
  ];
}

async function wholePipeline(bytes: Buffer): Promise<{ perS: number; perCpuS: number; bytes: number }> {
  const folder = mkdtempSync(join(tmpdir(), 'strandward-bench-'));
  const store = openStore({ folder });
  let listener: SourceListener | null = null;
  const source: Source = {
    title: 'bench',
    timing: 'recorded',
    resumable: false,
    start: (given) => {
      listener = given;
    },
    stop: async () => {},
  };
  const monitor = createLineMonitor({
    clock: new MonotonicClock(),
    log: QUIET,
    writer: store.writer,
    reader: store.reader,
    samples: store.samples,
    flushSamples: (nowMs) => store.tick(nowMs),
    openSource: () => source,
    unusableSource: () => source,
    settings: defaultLineSettings(),
    fixedSource: null,
    timeZone: 'UTC',
  });
  let readings = 0;
  monitor.subscribe({
    reading: () => {
      readings += 1;
    },
  });
  monitor.start();
  const feed = listener as unknown as SourceListener;
  feed.opened();
  const cpuBefore = process.cpuUsage();
  const began = performance.now();
  for (const piece of pieces(bytes)) feed.bytes(piece, null);
  store.samples.flush();
  const seconds = (performance.now() - began) / 1000;
  const cpu = process.cpuUsage(cpuBefore);
  await monitor.stop();
  await store.close();
  const size = folderBytes(folder);
  rmSync(folder, { recursive: true, force: true });
  return { perS: readings / seconds, perCpuS: readings / ((cpu.user + cpu.system) / 1e6), bytes: size / readings };
}

async function readlineOnly(bytes: Buffer): Promise<number> {
  const parser = new ReadlineParser({ delimiter: '\n' });
  let lines = 0;
  parser.on('data', () => {
    lines += 1;
  });
  const began = performance.now();
  for (const piece of pieces(bytes)) {
    if (!parser.write(piece)) await new Promise((resolve) => parser.once('drain', resolve));
  }
  await new Promise((resolve) => parser.end(resolve));
  return lines / ((performance.now() - began) / 1000);
}

/** What a first script would do: one row per reading, an index on time, a commit per second (50 rows). */
function plainRows(bytes: Buffer): { perS: number; bytes: number } {
  const readings = bytes
    .toString('latin1')
    .split('\n')
    .filter((line) => line.startsWith('ms='))
    .slice(0, ROWS)
    .map((line) => [...line.matchAll(/=([-+.\deE]+)/g)].map((match) => Number(match[1])));
  const columns = readings[0]?.length ?? 0;
  const complete = readings.filter((values) => values.length === columns);
  const folder = mkdtempSync(join(tmpdir(), 'strandward-bench-'));
  const file = join(folder, 'rows.sqlite');
  const db = new Database(file);
  db.pragma('journal_mode = WAL');
  db.pragma('synchronous = NORMAL');
  const names = Array.from({ length: columns }, (_, index) => `c${index}`);
  db.exec(`CREATE TABLE reading (time REAL, ${names.join(' REAL, ')} REAL); CREATE INDEX at ON reading (time)`);
  const insert = db.prepare(`INSERT INTO reading VALUES (?, ${names.map(() => '?').join(', ')})`);
  const second = db.transaction((from: number) => {
    for (const values of complete.slice(from, from + 50)) insert.run(1_700_000_000_000 + (values[0] ?? 0), ...values);
  });
  const began = performance.now();
  for (let from = 0; from < complete.length; from += 50) second(from);
  const seconds = (performance.now() - began) / 1000;
  db.pragma('wal_checkpoint(TRUNCATE)');
  db.close();
  const size = statSync(file).size;
  rmSync(folder, { recursive: true, force: true });
  return { perS: complete.length / seconds, bytes: size / complete.length };
}

function folderBytes(folder: string): number {
  return ['strandward.sqlite', 'strandward.db'].reduce((sum, name) => {
    const size = statSync(join(folder, name), { throwIfNoEntry: false })?.size ?? 0;
    return sum + size;
  }, 0);
}
