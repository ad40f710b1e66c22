/** Parts of the database that the disk does not return any more: a memory card at the end of its life fails so. */
import { closeSync, openSync, writeSync } from 'node:fs';
import { join } from 'node:path';
import Sqlite from 'better-sqlite3';
import { expect, it } from 'vitest';
import { DATABASE_FILE } from '../../server/store/database.ts';
import { openStore } from '../../server/store/index.ts';
import { MUTE, startTestService } from '../api/test-service.ts';
import { until } from '../service/running-service.ts';
import { beginRun, inNewRecord } from '../store/readings.ts';

/** Overwrites the first page of a table of a database in use. */
function loseTable(path: string, table: string): void {
  const db = new Sqlite(path);
  const page = db.prepare<[string], number>('SELECT rootpage FROM sqlite_master WHERE name = ?').pluck().get(table)!;
  const pageBytes = Number(db.pragma('page_size', { simple: true }));
  db.pragma('wal_checkpoint(TRUNCATE)');
  const file = openSync(path, 'r+');
  writeSync(file, Buffer.alloc(pageBytes, 0xff), 0, pageBytes, (page - 1) * pageBytes);
  closeSync(file);
  // A change by another connection makes every one read again what it has in memory.
  db.exec("UPDATE run SET note = 'changed'");
  db.close();
}

it('are named as such to whoever asks, once in the journal, and by an alarm, while the line is watched', async () => {
  await inNewRecord(async (dataFolder) => {
    const store = openStore({ folder: dataFolder, readers: 'sameThread' });
    store.writer.endRun(beginRun(store), 1_750_000_000_000);
    await store.close();
    const service = await startTestService(MUTE, {}, undefined, null, { dataFolder });
    try {
      service.start();
      expect(await service.send('GET', '/api/printers')).toMatchObject({ status: 200 });
      loseTable(join(dataFolder, DATABASE_FILE), 'printer');
      for (let i = 0; i < 3; i++)
        expect(await service.send('GET', '/api/printers')).toMatchObject({
          status: 500,
          body: {
            code: 'database-broken',
            title: expect.stringMatching(/^The record .* cannot be read: it is damaged, or its disk fails\.$/),
          },
        });
      const { alarms } = await until(
        () => service.get<{ alarms: { type: string; sentence: string }[] }>('/api/state'),
        (state) => state.alarms.some(({ type }) => type === 'recordDamaged'),
        'the alarm',
      );
      expect(alarms.find(({ type }) => type === 'recordDamaged')!.sentence).toContain('cannot be read');
      const entries = service.store.reader.logEntries({ limit: 100 }).map(({ what }) => what);
      expect(entries.filter((what) => what.includes('cannot be read'))).toHaveLength(1);
      expect((await fetch(`${service.address}/health`)).status).toBe(200);
    } finally {
      await service.stop();
    }
  });
});
