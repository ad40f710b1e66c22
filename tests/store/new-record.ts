import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { DATABASE_FILE, openDatabase } from '../../server/store/database.ts';

let empty: Buffer | null = null;

/**
 * A data folder with an empty record. Carrying a database through every layout takes longer than most tests, so this is done
 * once. All of them have the same house code.
 */
export function newRecord(prefix: string): string {
  empty ??= emptyDatabase();
  const folder = mkdtempSync(join(tmpdir(), prefix));
  writeFileSync(join(folder, DATABASE_FILE), empty, { mode: 0o600 });
  return folder;
}

function emptyDatabase(): Buffer {
  const folder = mkdtempSync(join(tmpdir(), 'strandward-empty-'));
  try {
    openDatabase(folder, false).close();
    return readFileSync(join(folder, DATABASE_FILE));
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}
