import { join } from 'node:path';
import { Worker } from 'node:worker_threads';
import Sqlite from 'better-sqlite3';
import { beforeAll, describe, expect, it } from 'vitest';
import { DATABASE_FILE } from '../../server/store/database.ts';
import { CHECKPOINT_EVERY_MS } from '../../server/store/database-upkeep.ts';
import { openStore } from '../../server/store/index.ts';
import { sizeOf } from '../../server/store/private-files.ts';
import { IS_LONG_CHECK } from '../long-check.ts';
import { builtStore } from './built-store.ts';
import { beginRun, inNewRecord, layoutOf, randomOf, readingOf } from './readings.ts';

const CHANNELS = ['d', 'a', 'b', 'c', 'e', 'f'];
const layout = layoutOf(CHANNELS);
const MB = 2 ** 20;
/** The size at which the store truncates the log, and what may be added before its next check. */
const BOUND_BYTES = 48 * MB;
/** `journal_size_limit` of the database. */
const AT_REST_BYTES = 8 * MB;

let built: URL;
beforeAll(() => {
  built = builtStore();
});

/** Queries whole runs and windows without a pause, from a read-only store on a separate thread. */
const READER = `
  const { workerData, parentPort } = require('node:worker_threads');
  (async () => {
    const { openStore } = await import(workerData.url);
    const store = openStore({ folder: workerData.folder, readOnly: true, readers: 'sameThread' });
    let stop = false;
    let asked = 0;
    parentPort.on('message', () => { stop = true; });
    while (!stop) {
      await store.columns.window({ runId: 1, axis: 'length', from: 0, to: 1e9, columns: 1500, channels: ['d', 'a', 'b'] });
      await store.columns.readings(1, 0, 1e9, ['d', 'a', 'b', 'c']);
      asked += 2;
      await new Promise((resolve) => setImmediate(resolve));
    }
    await store.close();
    parentPort.postMessage(asked);
    parentPort.close();
  })();`;

describe('the write-ahead log', () => {
  // Three threads without a pause, for seconds.
  it.runIf(IS_LONG_CHECK)(
    'stays small while three threads read whole runs and readings arrive fast',
    async () => {
      await inNewRecord(async (folder) => {
        const store = openStore({ folder, readers: 'sameThread' });
        const runId = beginRun(store);
        const random = randomOf(3);
        const append = (i: number) =>
          store.samples.append(runId, readingOf(layout, i * 20, CHANNELS.map(random)), i * 0.7);
        for (let i = 0; i < 20_000; i++) append(i);
        store.samples.flush();
        const readers = Array.from(
          { length: 3 },
          () => new Worker(READER, { eval: true, workerData: { url: built.href, folder } }),
        );
        const wal = join(folder, `${DATABASE_FILE}-wal`);
        let largest = 0;
        let written = 0;
        // A real day at 50 readings/s would take too long: the pace is higher, and so is the clock that the store gets.
        for (let second = 0; second < 1500; second++) {
          for (let k = 0; k < 50; k++) append(20_000 + second * 50 + k);
          store.writer.log({ timeMs: second, runId, who: 'test', what: 'x'.repeat(4000) });
          store.tick(second * 1000);
          largest = Math.max(largest, sizeOf(wal));
          written = store.sizeBytes();
          if (second % 5 === 0) await new Promise((resolve) => setImmediate(resolve));
        }
        const asked = await Promise.all(
          readers.map(
            (reader) =>
              new Promise<number>((resolve, reject) => {
                reader.once('message', resolve);
                reader.once('error', reject);
                reader.postMessage('stop');
              }),
          ),
        );
        for (const n of asked) expect(n).toBeGreaterThan(0);
        expect(written).toBeGreaterThan(8 * MB);
        expect(largest).toBeLessThan(BOUND_BYTES);
        store.tick(1e9);
        expect(sizeOf(wal)).toBeLessThanOrEqual(AT_REST_BYTES);
        expect((await store.columns.extent(runId))!.count).toBe(95_000);
        await store.close();
      });
    },
    120_000,
  );

  it.each([
    [20, 'the next checkpoint'],
    [40, 'the next round'],
  ])(
    'of %i MB that a long-running reader caused is emptied at %s, and nothing in it is lost',
    async (size, when) => {
      await inNewRecord(async (folder) => {
        const store = openStore({ folder, readers: 'sameThread' });
        const runId = beginRun(store);
        const random = randomOf(4);
        const other = new Sqlite(join(folder, DATABASE_FILE), { readonly: true });
        other.exec('BEGIN');
        const seen = other.prepare('SELECT count(*) FROM operator_log').pluck();
        expect(seen.get()).toBe(0);
        const wal = join(folder, `${DATABASE_FILE}-wal`);
        let second = 0;
        let longestMs = 0;
        while (sizeOf(wal) < size * MB) {
          second++;
          for (let k = 0; k < 50; k++) {
            const i = second * 50 + k;
            store.samples.append(runId, readingOf(layout, i * 20, CHANNELS.map(random)), i * 0.7);
          }
          store.writer.log({ timeMs: second, runId, who: 'test', what: 'x'.repeat(2_000_000) });
          const from = performance.now();
          store.tick(second * 11_000);
          longestMs = Math.max(longestMs, performance.now() - from);
        }
        // It must not wait for the reader's lock, which would take five seconds each time.
        expect(longestMs).toBeLessThan(4000);
        // It sees the record as it was when it started, and delays no one.
        expect(seen.get()).toBe(0);
        other.exec('COMMIT');
        other.close();
        store.tick((second + 1) * 11_000 + (when === 'the next checkpoint' ? CHECKPOINT_EVERY_MS : 0));
        expect(sizeOf(wal)).toBeLessThanOrEqual(AT_REST_BYTES);
        expect((await store.columns.extent(runId))!.count).toBe(second * 50);
        expect(store.reader.logEntries({ limit: 1e6 }).length).toBe(second);
        expect(await store.maintenance.check()).toStrictEqual([]);
        await store.close();
      });
    },
    120_000,
  );
});
