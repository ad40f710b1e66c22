import { describe, expect, it } from 'vitest';
import type { WindowAxis, WindowColumns } from '../../server/monitor/ports.ts';
import { openStore, type SampleColumns, type Store } from '../../server/store/index.ts';
import { gauss } from './noise.ts';
import { beginRun, inFolder, layoutOf, randomOf, readingOf, withStore } from './readings.ts';

const CHANNELS = ['d', 't1', 'f1', 'sum'];

/** A run with stand-stills, pauses, gaps, a channel sent every tenth line, and computed values. */
function fill(store: Store, n: number, seed: number): number {
  const runId = beginRun(store);
  const layout = layoutOf(CHANNELS);
  const random = randomOf(seed);
  const g = gauss(seed + 1);
  let timeMs = 1_750_000_000_000;
  let gaugeMm = 0;
  for (let i = 0; i < n; i++) {
    timeMs += random() < 0.0005 ? 60_000 * random() : 20 + 0.2 * g();
    const moving = Math.floor(i / 3000) % 4 !== 1;
    if (moving) gaugeMm += Math.max(0, 0.7 + 0.1 * g());
    const d = random() < 0.01 ? Number.NaN : Math.round((1.75 + 0.02 * g()) * 1000) / 1000;
    const t = i % 10 === 0 ? Math.round((200 + g()) * 4) / 4 : Number.NaN;
    store.samples.append(runId, readingOf(layout, timeMs, [d, t, i < n / 2 ? Number.NaN : 0, d * 2 + 0.1]), gaugeMm);
    if (i % 9973 === 0) store.tick(i);
  }
  return runId;
}

/** The same window, reading by reading. */
function bruteForce(raw: SampleColumns, axis: WindowAxis, from: number, to: number, columns: number) {
  const x = axis === 'time' ? raw.timeMs : raw.gaugeMm;
  const count = new Array<number>(columns).fill(0);
  const first = new Array<number | null>(columns).fill(null);
  const of = () => ({ n: 0, min: Infinity, max: -Infinity, sum: 0 });
  const stats = CHANNELS.map(() => Array.from({ length: columns }, of));
  const edges = Array.from({ length: columns }, (_, i) => from + ((to - from) * i) / columns);
  let column = 0;
  for (let i = 0; i < x.length; i++) {
    if (x[i]! < from || x[i]! > to) continue;
    while (column + 1 < columns && x[i]! >= edges[column + 1]!) column++;
    count[column]!++;
    first[column] ??= i;
    CHANNELS.forEach((name, c) => {
      const v = raw.values[name]![i]!;
      if (Number.isNaN(v)) return;
      const s = stats[c]![column]!;
      s.n++;
      s.min = Math.min(s.min, v);
      s.max = Math.max(s.max, v);
      s.sum += v;
    });
  }
  return { count, first, stats };
}

function compare(got: WindowColumns, raw: SampleColumns, from: number, to: number, columns: number): void {
  const want = bruteForce(raw, got.axis, from, to, columns);
  expect(got.count).toStrictEqual(want.count);
  expect(got.timeMs).toStrictEqual(want.first.map((i) => (i === null ? null : raw.timeMs[i]!)));
  expect(got.gaugeMm).toStrictEqual(want.first.map((i) => (i === null ? null : raw.gaugeMm[i]!)));
  CHANNELS.forEach((name, c) => {
    const { min, max, mean } = got.channels[name]!;
    expect(min).toStrictEqual(want.stats[c]!.map((s) => (s.n > 0 ? s.min : null)));
    expect(max).toStrictEqual(want.stats[c]!.map((s) => (s.n > 0 ? s.max : null)));
    const wrongMeans = want.stats[c]!.filter((s, i) => {
      if (s.n === 0) return mean[i] !== null;
      return !(Math.abs(mean[i]! - s.sum / s.n) < 1e-11 * Math.max(1, Math.abs(s.min), Math.abs(s.max)));
    });
    expect(wrongMeans).toStrictEqual([]);
  });
}

async function compareRandomWindows(store: Store, runId: number, windows: number, seed: number): Promise<void> {
  const raw = await store.columns.readings(runId, 0, 1e9, CHANNELS);
  const random = randomOf(seed);
  for (let k = 0; k < windows; k++) {
    const axis: WindowAxis = k % 2 === 0 ? 'time' : 'length';
    const x = axis === 'time' ? raw.timeMs : raw.gaugeMm;
    const span = (x.at(-1)! - x[0]!) * 10 ** (-4 * random());
    const a = x[0]! - 0.1 * span + random() * (x.at(-1)! - x[0]!);
    // Every third window begins and ends on a reading.
    const from = k % 3 === 0 ? x[Math.floor(random() * x.length)]! : a;
    const to = k % 3 === 0 ? Math.max(from, x[Math.floor(random() * x.length)]!) : a + span;
    const columns = 1 + Math.floor(random() ** 3 * 1500);
    const got = await store.columns.window({ runId, axis, from, to, columns, channels: CHANNELS });
    compare(got, raw, from, to, columns);
  }
}

describe('a window of readings', () => {
  it('has the true minimum, maximum, mean and count a column, on both axes and at every zoom', async () => {
    await withStore(async (store) => {
      const runId = fill(store, 30_000, 3);
      await compareRandomWindows(store, runId, 80, 4);
    });
  });

  it('has them too where pages of summaries answer, and after the store was opened anew', async () => {
    await inFolder(async (folder) => {
      const store = openStore({ folder });
      // More than 32 blocks of 2048 readings: the first page of summaries is full.
      const runId = fill(store, 80_000, 5);
      await compareRandomWindows(store, runId, 12, 6);
      await store.close();
      const again = openStore({ folder, readOnly: true });
      await compareRandomWindows(again, runId, 12, 7);
      await again.close();
    });
  });

  it('climbs the pyramid: with a second level of summaries the answers stay the same', async () => {
    await withStore(async (store) => {
      const runId = beginRun(store);
      const layout = layoutOf(CHANNELS);
      const random = randomOf(9);
      // Runs in turn seal each other's blocks: 1100 blocks of three readings fill 34 pages, and these one above them.
      const other = beginRun(store);
      for (let i = 0; i < 3300; i++) {
        store.samples.append(runId, readingOf(layout, i * 20, [random(), i, 1, -i / 10]), i / 4);
        if (i % 3 === 2) store.samples.append(other, readingOf(layout, i * 20, [0]), i / 4);
      }
      store.samples.flush();
      await compareRandomWindows(store, runId, 40, 10);
    });
  }, 40_000);

  it('shows a reading the moment it was appended, before any of it is on disk', async () => {
    await withStore(async (store) => {
      const runId = beginRun(store);
      const layout = layoutOf(['d']);
      for (let i = 0; i < 2100; i++) {
        store.samples.append(runId, readingOf(layout, i * 20, [1.7 + i / 10_000]), i);
        if (i % 50 !== 0) continue;
        const query = { runId, axis: 'time' as const, from: 0, to: i * 20, columns: 1, channels: ['d', 'unheard'] };
        const window = await store.columns.window(query);
        expect(window.count).toStrictEqual([i + 1]);
        expect(window.channels.d!.max).toStrictEqual([1.7 + i / 10_000]);
        expect(window.channels.unheard!.max).toStrictEqual([null]);
      }
    });
  });

  it('refuses a window that ends before it starts, and a number of columns that cannot be', async () => {
    await withStore(async (store) => {
      const query = { runId: 1, axis: 'time' as const, from: 0, to: 10, columns: 10, channels: [] };
      await expect(store.columns.window({ ...query, to: -1 })).rejects.toThrow('ends before it starts');
      await expect(store.columns.window({ ...query, from: Number.NaN })).rejects.toThrow('ends before it starts');
      await expect(store.columns.window({ ...query, columns: 4001 })).rejects.toThrow('4001 columns');
      await expect(store.columns.window({ ...query, columns: 0 })).rejects.toThrow('0 columns');
    });
  });

  it('shows a damaged block as a gap, says so once, and reads the rest', async () => {
    await inFolder(async (folder) => {
      const first = openStore({ folder });
      const runId = fill(first, 10_000, 11);
      await first.close();
      const { default: Sqlite } = await import('better-sqlite3');
      const { DATABASE_FILE } = await import('../../server/store/database.ts');
      const db = new Sqlite(`${folder}/${DATABASE_FILE}`);
      const id = runId * 2 ** 28 + 1;
      const data = db.prepare('SELECT data FROM sample_block WHERE id = ?').pluck().get(id) as Buffer;
      data[1000]! ^= 4;
      db.prepare('UPDATE sample_block SET data = ? WHERE id = ?').run(data, id);
      db.close();
      const damage: unknown[] = [];
      const store = openStore({ folder, damaged: (what) => damage.push(what) });
      const extent = (await store.columns.extent(runId))!;
      for (let k = 0; k < 2; k++) {
        const { count, channels } = await store.columns.window({
          runId,
          axis: 'time',
          from: extent.fromMs,
          to: extent.toMs,
          columns: 500,
          channels: ['d'],
        });
        expect(count.reduce((a, b) => a + b)).toBe(10_000);
        expect(channels.d!.max.filter((v) => v !== null).length).toBeGreaterThan(100);
      }
      const raw = await store.columns.readings(runId, 0, extent.toGaugeMm, ['d']);
      expect(raw.values.d!.subarray(2048, 4096).every(Number.isNaN)).toBe(true);
      expect(raw.values.d!.subarray(4096).filter(Number.isFinite).length).toBeGreaterThan(5700);
      expect(damage).toStrictEqual([{ runId, block: 1, level: null, why: 'the checksum does not match' }]);
      await store.close();
    });
  });
});
