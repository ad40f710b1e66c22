import { renameSync } from 'node:fs';
import { join } from 'node:path';
import { beforeAll, describe, expect, it } from 'vitest';
import type { Store, StoreOptions } from '../../server/store/index.ts';
import { builtStore } from './built-store.ts';
import { gauss } from './noise.ts';
import { beginRun, inNewRecord, layoutOf, readingOf } from './readings.ts';

let openStore: (options: StoreOptions) => Store;
beforeAll(async () => {
  ({ openStore } = await import(builtStore().href));
});

describe('the reader on a worker', () => {
  it('gives the same answers as on the same thread while readings are appended', async () => {
    await inNewRecord(async (folder) => {
      const store = openStore({ folder });
      const runId = beginRun(store);
      const layout = layoutOf(['d', 't1']);
      const g = gauss(1);
      const sent: number[] = [];
      for (let i = 0; i < 9000; i++) {
        const d = Math.round((1.75 + 0.01 * g()) * 1000) / 1000;
        sent.push(d);
        store.samples.append(runId, readingOf(layout, i * 20, [d, 200]), i / 4);
        if (i % 450 !== 449) continue;
        const query = { runId, axis: 'length' as const, from: 0, to: i / 4, columns: 1, signals: ['d'] };
        const asked = store.columns.window(query);
        // Written while the query is on its way: it must be counted once.
        if (i % 900 === 449) store.tick(i * 20);
        const window = await asked;
        expect(window.count).toStrictEqual([i + 1]);
        expect(window.signals.d!.min).toStrictEqual([Math.min(...sent)]);
      }
      const back = await store.columns.readings(runId, 0, 1e9, ['d', 't1']);
      expect([...back.values.d!]).toStrictEqual(sent);
      expect((await store.columns.extent(runId))!.signals.map((c) => c.name)).toStrictEqual(['d', 't1']);
      await store.close();
    });
  });

  it('reports what is wrong with a query, and continues to answer', async () => {
    await inNewRecord(async (folder) => {
      const store = openStore({ folder });
      const runId = beginRun(store);
      const query = { runId, axis: 'time' as const, from: 5, to: 1, columns: 1, signals: [] };
      await expect(store.columns.window(query)).rejects.toMatchObject({ code: 'bad-window' });
      expect((await store.columns.window({ ...query, to: 9 })).count).toStrictEqual([0]);
      await store.close();
      await expect(store.columns.extent(runId)).rejects.toThrow('closed');
    });
  });

  it('answers the next query after it has died', async () => {
    await inNewRecord(async (folder) => {
      const store = openStore({ folder });
      const runId = beginRun(store);
      const [record, away] = ['strandward.sqlite', 'away.sqlite'].map((name) => join(folder, name)) as [string, string];
      renameSync(record, away);
      const again = store.columns.extent(runId).catch((thrown) => {
        renameSync(away, record);
        expect(thrown.message).not.toContain('ended');
        return store.columns.window({ runId, axis: 'time', from: 0, to: 1, columns: 1, signals: [] });
      });
      expect(await again).toMatchObject({ count: [0] });
      await store.close();
    });
  });
});
