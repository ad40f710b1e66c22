import { mkdtempSync, readFileSync, rmSync, statSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { openStore, type Store } from '../../server/store/index.ts';
import { duckdbPeer } from './duckdb-peer.ts';
import { type Batch, generatedNight, LAYOUT, SIGNALS } from './generated-night.ts';
import type { Peer, PeerColumn } from './peer.ts';
import { plainRows } from './plain-rows.ts';
import type { BenchRow } from './report.ts';
import { type Asked, benchCold, benchWindows, COLUMNS, Draw } from './stored-windows.ts';

export const READINGS = 10_000_000;
/** Beyond this the peers, which are to be compared at one size, would take hours and most of a disk. */
const PEER_READINGS_MAX = 30_000_000;
const WEAR_READINGS = 60_000;
/** A night of eight hours. */
const NIGHT_READINGS = 8 * 3600 * 50;
const COMPARED = 12;
const HZ = 50;

/** The record compared with a plain table, DuckDB and Parquet: size, wear of the disk, windows of stored readings. */
export async function benchStore(readings: number): Promise<BenchRow[]> {
  const folder = mkdtempSync(join(tmpdir(), 'strandward-bench-'));
  try {
    return [...(await benchWear(folder)), ...(await benchRecord(folder, readings))];
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}

/** Bytes that reach the device when readings are made durable second by second, as they come. */
async function benchWear(folder: string): Promise<BenchRow[]> {
  const ours = await writtenBytes(async () => {
    const store = openStore({ folder: join(folder, 'wear'), readers: 'sameThread' });
    const runId = newRun(store);
    for (const batch of generatedNight(WEAR_READINGS)) append(store, runId, batch, HZ);
    await store.close();
  });
  const plain = await writtenBytes(async () => {
    const peer = plainRows(join(folder, 'wear-rows.sqlite'), HZ);
    for (const batch of generatedNight(WEAR_READINGS)) await peer.take(batch);
    await peer.close();
  });
  return [
    { what: 'written to the device, durable every second', value: ours / WEAR_READINGS, unit: 'B/reading' },
    { what: '… in a night of 8 h at 50 Hz', value: ((ours / WEAR_READINGS) * NIGHT_READINGS) / 1e6, unit: 'MB' },
    {
      what: 'the same by the plain table',
      value: plain / WEAR_READINGS,
      unit: 'B/reading',
      ratio: ours / plain,
    },
  ];
}

async function benchRecord(folder: string, readings: number): Promise<BenchRow[]> {
  const rows: BenchRow[] = [];
  const path = join(folder, 'record');
  const writing = openStore({ folder: path, readers: 'sameThread' });
  const runId = newRun(writing);
  const appendMs = await timed(async () => {
    for (const batch of generatedNight(readings)) append(writing, runId, batch, 0);
    writing.samples.flush();
  });
  // Closed and opened again: what waits in the write-ahead log is counted once, and nothing is in a cache.
  await writing.close();
  let store = openStore({ folder: path, readers: 'sameThread' });
  const bytes = store.sizeBytes() / readings;
  rows.push(
    { what: `readings stored, each of ${SIGNALS.length} signals`, value: readings, unit: '' },
    { what: 'stored by the record alone', value: (readings / appendMs) * 1000, unit: 'readings/s' },
    { what: 'bytes on disk a reading, summaries included', value: bytes, unit: 'B', target: '≤ 6', met: bytes <= 6 },
  );
  const extent = (await store.columns.extent(runId))!;
  await store.close();
  rows.push(...(await benchCold(path, runId, extent)));
  store = openStore({ folder: path, readers: 'sameThread' });
  rows.push(...(await benchWindows(store, runId, extent)));
  if (readings <= PEER_READINGS_MAX) {
    const draw = new Draw(extent);
    const compared = Array.from({ length: COMPARED }, () => draw.any('time'));
    rows.push(...(await comparePeers(folder, readings, store, runId, compared, bytes)));
  } else {
    process.stderr.write(`The peers are left out beyond ${PEER_READINGS_MAX.toLocaleString('en')} readings.\n`);
  }
  await store.close();
  return rows;
}

async function comparePeers(
  folder: string,
  readings: number,
  store: Store,
  runId: number,
  compared: readonly Asked[],
  bytes: number,
): Promise<BenchRow[]> {
  const own: PeerColumn[][] = [];
  const ownMs = await timed(async () => {
    for (const { from, to } of compared) own.push(await ownWindow(store, runId, from, to));
  });
  const duckdb = await duckdbPeer(join(folder, 'reading.duckdb'));
  const columnsMs = await fillAndAsk(duckdb, readings, compared, own);
  const parquet = (await duckdb.packed(join(folder, 'reading.parquet'))) / readings;
  const duckdbBytes = (await duckdb.close()) / readings;
  const plain = plainRows(join(folder, 'rows.sqlite'), 10_000);
  const rowsMs = await fillAndAsk(plain, readings, compared, own);
  const rowBytes = (await plain.close()) / readings;
  const against = (peerMs: number, times: number): Pick<BenchRow, 'ratio' | 'target' | 'met'> => ({
    ratio: ownMs / peerMs,
    target: `ratio ≤ 1/${times}`,
    met: ownMs * times <= peerMs,
  });
  return [
    { what: 'bytes a row in the plain table', value: rowBytes, unit: 'B', ...size(bytes, rowBytes, 1 / 8) },
    { what: 'bytes a row in DuckDB', value: duckdbBytes, unit: 'B', ratio: bytes / duckdbBytes },
    { what: 'bytes a row in Parquet with zstd', value: parquet, unit: 'B', ...size(bytes, parquet, 1.2) },
    { what: `the same ${COMPARED} windows of diameter, mean`, value: ownMs / COMPARED, unit: 'ms' },
    { what: '… by GROUP BY on the plain table', value: rowsMs / COMPARED, unit: 'ms', ...against(rowsMs, 100) },
    { what: '… by DuckDB, all cores', value: columnsMs / COMPARED, unit: 'ms', ...against(columnsMs, 10) },
  ];
}

function size(own: number, peer: number, most: number): Pick<BenchRow, 'ratio' | 'target' | 'met'> {
  return { ratio: own / peer, target: `ratio ≤ ${most}`, met: own / peer <= most };
}

async function fillAndAsk(
  peer: Peer,
  readings: number,
  compared: readonly Asked[],
  own: readonly PeerColumn[][],
): Promise<number> {
  for (const batch of generatedNight(readings)) await peer.take(batch);
  const answers: PeerColumn[][] = [];
  const ms = await timed(async () => {
    for (const { from, to } of compared) answers.push(await peer.window(from, to, COLUMNS));
  });
  // A comparison is meaningful only if the answers are the same. The peers divide, so a reading that is on an edge
  // may fall to the other side of it.
  for (let k = 0; k < compared.length; k++) {
    const count = (columns: readonly PeerColumn[]) => columns.reduce((sum, column) => sum + column.count, 0);
    const top = (columns: readonly PeerColumn[]) => columns.reduce((most, column) => Math.max(most, column.max), 0);
    if (count(answers[k]!) !== count(own[k]!) || top(answers[k]!) !== top(own[k]!)) {
      throw new Error(`Window ${k} has ${count(answers[k]!)} readings with the peer, ${count(own[k]!)} here.`);
    }
  }
  return ms;
}

async function ownWindow(store: Store, runId: number, from: number, to: number): Promise<PeerColumn[]> {
  const { count, signals } = await store.columns.window({
    runId,
    axis: 'time',
    from,
    to,
    columns: COLUMNS,
    signals: ['d'],
  });
  const { min, max, mean } = signals.d!;
  return count.flatMap((n, at) => (n === 0 ? [] : [{ at, count: n, min: min[at]!, max: max[at]!, mean: mean[at]! }]));
}

function newRun(store: Store): number {
  return store.writer.beginRun({ startedMs: 1_750_000_000_000, timeZone: 'UTC', sourceTitle: 'bench' }).id;
}

/** `every`: readings between two ticks; 0 = none. */
function append(store: Store, runId: number, batch: Batch, every: number): void {
  const values = new Array<number>(SIGNALS.length).fill(0);
  for (let i = 0; i < batch.count; i++) {
    for (let c = 0; c < values.length; c++) values[c] = batch.values[c]![i]!;
    store.samples.append(
      runId,
      { timeMs: batch.timeMs[i]!, layout: LAYOUT, values, lostBefore: 0, restarted: false },
      batch.gaugeMm[i]!,
    );
    if (every > 0 && i % every === every - 1) store.tick(batch.timeMs[i]!);
  }
}

/** Linux counts what a process sends to the block device. */
async function writtenBytes(work: () => Promise<void>): Promise<number> {
  const before = writtenSoFar();
  await work();
  return writtenSoFar() - before;
}

function writtenSoFar(): number {
  if (statSync('/proc/self/io', { throwIfNoEntry: false }) === undefined) return Number.NaN;
  return Number(/^write_bytes: (\d+)$/m.exec(readFileSync('/proc/self/io', 'utf8'))?.[1]);
}

async function timed(work: () => Promise<unknown>): Promise<number> {
  const began = performance.now();
  await work();
  return performance.now() - began;
}
