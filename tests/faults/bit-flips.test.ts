/** Single bits of the database that change on the card, at random places in a copy. */
import { copyFileSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import Sqlite from 'better-sqlite3';
import { expect, it } from 'vitest';
import { DATABASE_FILE } from '../../server/store/database.ts';
import { openStore } from '../../server/store/index.ts';
import { checkFile } from '../../server/store/maintenance/check-file.ts';
import { IS_LONG_CHECK } from '../long-check.ts';
import { beginRun, inFolder, layoutOf, randomOf, readingOf } from '../store/readings.ts';

const FLIPS = IS_LONG_CHECK ? 2000 : 120;
/** Derived from the rows, or of no meaning to anyone. */
const NO_ANSWER = new Set(['row_group', 'sqlite_stat1']);

async function filled(folder: string): Promise<string> {
  const store = openStore({ folder, readers: 'sameThread' });
  const random = randomOf(5);
  const signals = layoutOf(['d', 't1']);
  const runId = beginRun(store);
  for (let i = 0; i < 9000; i++)
    store.samples.append(runId, readingOf(signals, i * 20, [1.7 + random() / 10, 200 + random()]), i * 0.7);
  for (let i = 0; i < 300; i++)
    store.writer.log({ timeMs: i, runId, who: 'Kim', what: `Note ${i} about ${random().toString(36)}.` });
  store.writer.saveLineSettings({ lineName: 'Bench line', nominalMm: 1.75 });
  store.writer.setRunNote(runId, 'Dried for six hours.');
  await store.close();
  return join(folder, DATABASE_FILE);
}

/** Everything that the record can answer; the text of an error if it cannot be read. */
function answersOf(path: string): string {
  const db = new Sqlite(path, { readonly: true });
  try {
    const tables = db
      .prepare<[], string>("SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite%'")
      .pluck()
      .all()
      .filter((name) => !NO_ANSWER.has(name));
    const rows = tables.map((name) => [name, db.prepare(`SELECT * FROM "${name}"`).raw().all()]);
    return JSON.stringify(rows, (_, value) =>
      value?.type === 'Buffer' ? Buffer.from(value.data).toString('hex') : value,
    );
  } catch (thrown) {
    return String(thrown);
  } finally {
    db.close();
  }
}

it('finds every flipped bit that changes an answer', async () => {
  await inFolder(async (folder) => {
    const path = await filled(folder);
    expect(checkFile(path)).toStrictEqual([]);
    const right = answersOf(path);
    const bytes = readFileSync(path);
    const copy = join(folder, 'copy.sqlite');
    const random = randomOf(23);
    let changed = 0;
    const missed: string[] = [];
    for (let flip = 0; flip < FLIPS; flip++) {
      const at = Math.floor(random() * bytes.length);
      const bit = Math.floor(random() * 8);
      const damaged = Buffer.from(bytes);
      damaged[at]! ^= 1 << bit;
      writeFileSync(copy, damaged);
      let answers: string;
      try {
        answers = answersOf(copy);
      } catch (thrown) {
        answers = String(thrown);
      }
      if (answers === right) continue;
      changed++;
      if (checkFile(copy).length === 0) missed.push(`byte ${at} (page ${Math.floor(at / 4096) + 1}), bit ${bit}`);
    }
    process.stdout.write(
      `${changed} of ${FLIPS} flipped bits changed an answer; missed: ${missed.join('; ') || 'none'}\n`,
    );
    expect(changed).toBeGreaterThan(23);
    expect(missed).toStrictEqual([]);
  });
}, 120_000);

it('finds that a table is gone, although it was empty', async () => {
  await inFolder(async (folder) => {
    const path = await filled(folder);
    const db = new Sqlite(path);
    db.exec('DROP TABLE outbox');
    db.close();
    expect(checkFile(path)).toStrictEqual(['it is incomplete (outbox.seq)']);
  });
});

it.skipIf(!IS_LONG_CHECK)('finds a changed word in any table, and none after changes by the service', async () => {
  await inFolder(async (folder) => {
    const path = await filled(folder);
    const again = openStore({ folder, readers: 'sameThread' });
    again.writer.setRunNote(1, 'Dried for seven hours.');
    again.writer.log({ timeMs: 1, runId: null, who: 'Kim', what: 'One more.' });
    await again.close();
    expect(checkFile(path)).toStrictEqual([]);
    for (const sql of [
      "UPDATE operator_log SET what = 'Nite 7' WHERE id = 7",
      `UPDATE line_settings SET payload = replace(payload, '1.75', '1.35')`,
      "UPDATE run SET note = 'dried'",
      'UPDATE sample_span SET to_ms = to_ms + 1',
      "UPDATE sample_channel SET name = 'e' WHERE number = 0",
    ]) {
      const copy = join(folder, 'copy.sqlite');
      copyFileSync(path, copy);
      const db = new Sqlite(copy);
      db.exec(sql);
      db.close();
      expect([sql, checkFile(copy).length]).toStrictEqual([sql, 1]);
    }
  });
});
