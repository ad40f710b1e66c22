/** The database is moved, replaced or deleted while it is in use: what is written then would be lost with the next stop. */
import { copyFileSync, mkdtempSync, renameSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, it } from 'vitest';
import { DATABASE_FILE } from '../../server/store/database.ts';
import { openStore, type Store } from '../../server/store/index.ts';

let folder: string;
let store: Store;
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'strandward-moved-'));
  store = openStore({ folder, readers: 'sameThread' });
});
afterEach(() => rmSync(folder, { recursive: true }));

const path = () => join(folder, DATABASE_FILE);
const log = (what: string) => store.writer.log({ timeMs: 0, runId: null, who: 'Ada', what });
const logged = () => store.reader.logEntries({ limit: 10 }).map(({ what }) => what);
const moved = expect.objectContaining({ code: 'record-failing', message: expect.stringMatching(/moved, replaced or/) });

it.each([
  ['moved', () => {}],
  ['replaced by a copy', () => copyFileSync(join(folder, 'elsewhere'), path())],
])('%s: the record fails and takes no entry, until the file is back', async (_what, replace) => {
  log('before');
  store.tick(0);
  renameSync(path(), join(folder, 'elsewhere'));
  replace();
  expect(() => store.tick(1000)).toThrow(moved);
  expect(() => store.tick(2000)).toThrow(moved);
  expect(() => log('lost')).toThrow(expect.objectContaining({ code: 'record-failing', httpStatus: 507 }));
  renameSync(join(folder, 'elsewhere'), path());
  store.tick(3000);
  log('after');
  await store.close();
  store = openStore({ folder, readers: 'sameThread' });
  expect(logged()).toEqual(['after', 'before']);
  await store.close();
});

it('deleted: the next start says what is lost', async () => {
  log('before');
  store.tick(0);
  rmSync(path());
  expect(() => store.tick(1000)).toThrow(moved);
  await expect(store.close()).rejects.toThrow();
  expect(() => openStore({ folder })).toThrow(/the database is missing/);
});
