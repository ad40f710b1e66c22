import { copyFileSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import Sqlite from 'better-sqlite3';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { DATABASE_FILE } from '../../server/store/database.ts';

import { openStore, type Store } from '../../server/store/index.ts';
import { faultOfRecord } from '../../server/store/maintenance/check-values.ts';
import { SAMPLE_TABLES } from '../../server/store/samples/sample-ids.ts';
import type { MeasuredSection } from '../../server/strand/section.ts';
import { beginRun, inFolder, layoutOf, readingOf } from './readings.ts';

const START_MS = 1_750_000_000_000;
const READINGS = 200_000;
const LOG_ENTRIES = 600;

let made: string;
beforeAll(async () => {
  made = mkdtempSync(join(tmpdir(), 'strandward-archive-'));
  await makeArchive(made);
});
afterAll(() => rmSync(made, { recursive: true }));

/** A copy of the archive, because an import changes its file. */
function archive(folder: string): string {
  const file = join(folder, 'archive.sqlite');
  copyFileSync(join(made, 'archive.sqlite'), file);
  return file;
}

/** An archive of an ended run of two dozen blocks, with a note. */
async function makeArchive(folder: string): Promise<void> {
  const store = openStore({ folder: join(folder, 'home') });
  beginRun(store);
  const runId = beginRun(store);
  const layout = layoutOf(['d', 't1']);
  for (let i = 0; i < READINGS; i++) {
    store.samples.append(runId, readingOf(layout, START_MS + i * 20, [1.75 + (i % 997) / 1e4, 200 + (i % 9)]), i * 0.7);
  }
  store.samples.flush();
  const sections = Array.from(
    { length: 50 },
    (_, i): MeasuredSection => ({
      ordinal: i + 1,
      kind: 'blob',
      fromMm: i * 100,
      toMm: i * 100 + 9,
      fromTimeMs: START_MS + i * 3000,
      toTimeMs: START_MS + i * 3000 + 250,
      peakMm: 2,
      peakAtMm: i * 100 + 4,
      volumeBeyondMm3: 3,
      certainty: 'sure',
      verdict: 'discard',
      open: false,
    }),
  );
  store.writer.saveMeasuredSections(runId, sections);
  store.writer.log({ timeMs: START_MS, runId, who: 'Ada', what: 'Started.' });
  store.writer.setRunNote(runId, 'on its way');
  store.writer.endRun(runId, START_MS + READINGS * 20);
  const file = join(folder, 'archive.sqlite');
  await store.maintenance.writeArchive(runId, file);
  await store.close();
}

function sampleRows(folder: string): number[] {
  const db = new Sqlite(join(folder, DATABASE_FILE), { readonly: true });
  const rows = SAMPLE_TABLES.map(({ name }) => Number(db.prepare(`SELECT count(*) FROM ${name}`).pluck().get()));
  db.close();
  return rows;
}

const turn = () => new Promise((resolve) => setImmediate(resolve));

describe('importing a run', () => {
  it('copies few rows at a time, also of the last tables, and others may write in between', async () => {
    await inFolder(async (folder) => {
      const file = archive(folder);
      const long = new Sqlite(file);
      long.exec(
        `WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < ${LOG_ENTRIES})
         INSERT INTO operator_log (time_ms, run_id, who, what) SELECT ${START_MS} + i, run.id, 'Ada', 'Step ' || i || '.' FROM n, run;
         DELETE FROM row_group`,
      );
      long.close();
      const store = openStore({ folder: join(folder, 'away') });
      const db = new Sqlite(join(folder, 'away', DATABASE_FILE), { readonly: true });
      const entries = db.prepare<[], number>('SELECT count(*) FROM operator_log WHERE run_id IS NOT NULL').pluck();
      const importing = store.maintenance.readArchive(file);
      let importedId: number | null = null;
      void importing.then((id) => {
        importedId = id;
      });
      let copied = 0;
      let most = 0;
      let own = 0;
      while (importedId === null) {
        const now = entries.get() ?? 0;
        most = Math.max(most, now - copied);
        if (now > copied && now < LOG_ENTRIES) {
          store.writer.log({ timeMs: START_MS, runId: null, who: 'Kim', what: `Own ${own++}.` });
          // Nobody sees a part of it.
          expect(store.reader.logEntries({ limit: 999 }).every(({ who }) => who === 'Kim')).toBe(true);
        }
        copied = now;
        await turn();
      }
      // A backup of it can be restored.
      expect(faultOfRecord(db)).toBeNull();
      db.close();
      expect(most).toBeLessThanOrEqual(250);
      expect(own).toBeGreaterThan(0);
      const log = store.reader.logEntries({ limit: 9999 });
      expect(log.filter(({ who }) => who === 'Kim')).toHaveLength(own);
      const imported = store.reader.logEntries({ runId: importedId, limit: 9999 }).toReversed();
      expect(imported.map(({ what }) => what)).toStrictEqual([
        'Started.',
        ...Array.from({ length: LOG_ENTRIES }, (_, i) => `Step ${i + 1}.`),
      ]);
      await store.close();
    });
  });

  it('lets other work run in between, and the run is invisible until it is complete', async () => {
    await inFolder(async (folder) => {
      const file = archive(folder);
      const store = openStore({ folder: join(folder, 'away') });
      let importedId: number | null = null;
      const importing = store.maintenance.readArchive(file).then((id) => {
        importedId = id;
      });
      let own: number | null = null;
      let turns = 0;
      while (importedId === null) {
        await turn();
        turns++;
        if (turns === 3) own = beginRun(store);
        if (importedId === null) expect(store.reader.runs().filter(({ id }) => id !== own)).toStrictEqual([]);
      }
      await importing;
      expect(turns).toBeGreaterThan(3);
      expect(importedId).not.toBe(own);
      expect(store.reader.run(importedId)).toMatchObject({ note: 'on its way', endedMs: START_MS + READINGS * 20 });
      expect((await store.columns.extent(importedId))!.count).toBe(READINGS);
      expect(store.reader.measuredSections(importedId)).toHaveLength(50);
      expect(await store.maintenance.check()).toStrictEqual([]);
      await store.close();
    });
  });

  it('leaves nothing behind after a kill and the next start', async () => {
    await inFolder(async (folder) => {
      const file = archive(folder);
      const away = join(folder, 'away');
      let store: Store = openStore({ folder: away });
      const kept = beginRun(store);
      store.samples.append(kept, readingOf(layoutOf(['d']), START_MS, [1.75]), 0);
      store.samples.flush();
      store.writer.endRun(kept, START_MS + 20);
      const before = sampleRows(away);
      const importing = store.maintenance.readArchive(file);
      importing.catch(() => {});
      // The record is closed in the middle of the import, as if by a kill.
      for (let i = 0; i < 3; i++) await turn();
      await store.close();
      await expect(importing).rejects.toThrow();
      expect(sampleRows(away)[0]).toBeGreaterThan(before[0]!);
      store = openStore({ folder: away });
      await store.maintenance.removeLeftovers(join(folder, 'copies'));
      expect(store.reader.runs().map(({ id }) => id)).toStrictEqual([kept]);
      expect(sampleRows(away)).toStrictEqual(before);
      expect((await store.columns.extent(kept))!.count).toBe(1);
      await store.close();
    });
  });

  it('leaves the record unchanged if it is stopped, and the next import works', async () => {
    await inFolder(async (folder) => {
      const file = archive(folder);
      const away = join(folder, 'away');
      const store = openStore({ folder: away });
      const before = sampleRows(away);
      const stop = new AbortController();
      const importing = store.maintenance.readArchive(file, stop.signal);
      const outcome = importing.catch((thrown: unknown) => thrown);
      while (sampleRows(away)[0] === before[0]) await turn();
      stop.abort();
      expect(await outcome).toMatchObject({ name: 'AbortError' });
      expect(sampleRows(away)).toStrictEqual(before);
      expect(store.reader.runs()).toStrictEqual([]);
      const id = await store.maintenance.readArchive(file);
      expect((await store.columns.extent(id))!.count).toBe(READINGS);
      await store.close();
    });
  });

  it('leaves nothing in the record if a later step fails, and the next import works', async () => {
    await inFolder(async (folder) => {
      const file = archive(folder);
      const spoilt = new Sqlite(file);
      // A section of a run that the archive does not hold.
      spoilt.pragma('foreign_keys = OFF');
      spoilt.exec('UPDATE measured_section SET run_id = 77 WHERE ordinal = 7');
      spoilt.close();
      const away = join(folder, 'away');
      const store = openStore({ folder: away });
      await expect(store.maintenance.readArchive(file)).rejects.toMatchObject({ code: 'bad-archive' });
      expect(store.reader.runs()).toStrictEqual([]);
      expect(sampleRows(away)).toStrictEqual([0, 0, 0]);
      const id = await store.maintenance.readArchive(archive(folder));
      expect((await store.columns.extent(id))!.count).toBe(READINGS);
      await store.close();
    });
  });

  it('keeps the name that a run has in its house, and never gives one of another house a name of this one', async () => {
    await inFolder(async (folder) => {
      const store = openStore({ folder: join(folder, 'away') });
      const origins: unknown[] = [];
      for (const change of ['', 'UPDATE run SET house = NULL, house_run = NULL', "UPDATE run SET house = 'x'"]) {
        const file = archive(folder);
        const changed = new Sqlite(file);
        changed.exec(change);
        changed.close();
        const id = await store.maintenance.readArchive(file).catch(() => null);
        origins.push(id === null ? 'refused' : store.reader.run(id)?.origin);
      }
      expect(origins).toEqual([
        { house: expect.stringMatching(/^[^0].{2}$/), number: 2 },
        // Archives of older versions do not name their house.
        { house: expect.stringMatching(/^0.{2}$/), number: 2 },
        'refused',
      ]);
      await store.close();
    });
  });
});
