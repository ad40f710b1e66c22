/** A bit of the small rows that say where the blocks of readings lie flips: what is reserved by them stays in bounds. */
import { join } from 'node:path';
import Sqlite from 'better-sqlite3';
import { expect, it } from 'vitest';
import { DATABASE_FILE } from '../../server/store/database.ts';
import { openStore } from '../../server/store/index.ts';
import { beginRun, inFolder, layoutOf, readingOf } from '../store/readings.ts';

const START_MS = 1_750_000_000_000;
const READINGS = 20_000;

it.each([
  ['count', [...Array.from({ length: 53 }, (_, bit) => 8192 + 2 ** bit), 0, -8192]],
  ['from_ms', [-1e300, 0, 1e300]],
  ['to_ms', [-1e300, 0, 1e300]],
  ['from_gauge_mm', [-1e300, 1e300]],
  ['to_gauge_mm', [-1e300, 1e300]],
])('a damaged %s', async (column, values) => {
  await inFolder(async (folder) => {
    const made = openStore({ folder, readers: 'sameThread' });
    const runId = beginRun(made);
    const layout = layoutOf(['d']);
    for (let i = 0; i < READINGS; i++)
      made.samples.append(runId, readingOf(layout, START_MS + i * 20, [1.75]), i * 0.7);
    await made.close();
    for (const value of values) {
      const db = new Sqlite(join(folder, DATABASE_FILE));
      const [, middle] = db.prepare<[], number>('SELECT id FROM sample_span ORDER BY id').pluck().all();
      const before = db.prepare(`SELECT ${column} FROM sample_span WHERE id = ?`).pluck().get(middle);
      const set = db.prepare(`UPDATE sample_span SET ${column} = ? WHERE id = ?`);
      set.run(column === 'count' ? BigInt(value) : value, middle);
      const store = openStore({ folder, readOnly: true, readers: 'sameThread' });
      const extent = (await store.columns.extent(runId))!;
      expect([value, extent.count]).toStrictEqual([
        value,
        expect.toSatisfy((n: number) => n > 11_000 && n <= READINGS),
      ]);
      expect([extent.fromMs, extent.toMs]).toStrictEqual([START_MS, START_MS + (READINGS - 1) * 20]);
      const { values: read, gaugeMm } = await store.columns.readings(runId, 0, 1e9, ['d']);
      expect(gaugeMm.length).toBeLessThanOrEqual(READINGS);
      // Those of the other blocks at least.
      expect(read.d!.filter((mm) => mm === 1.75).length).toBeGreaterThanOrEqual(READINGS - 8192);
      const { count } = await store.columns.window({
        runId,
        axis: 'length',
        from: 0,
        to: 14_000,
        columns: 10,
        signals: ['d'],
      });
      expect(count.reduce((sum, n) => sum + n, 0)).toBeLessThanOrEqual(READINGS);
      await store.close();
      set.run(before, middle);
      db.close();
    }
  });
});
