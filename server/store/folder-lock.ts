import { join } from 'node:path';
import Sqlite from 'better-sqlite3';
import { Problem } from '../problem/problem.ts';
import { missingEngine } from './engine.ts';

/**
 * Locks a data folder against a second service. The lock is SQLite's file lock on an empty file next to the database. Unlike
 * a file with a process id it disappears with its process, and it also works between containers that share the folder.
 * @param whenInUse remedy to show if another service has the lock
 * @throws Problem `database-unusable`
 */
export function lockFolder(folder: string, whenInUse = 'Stop that one, or choose another data folder.'): () => void {
  const path = join(folder, 'strandward.lock');
  let lock: Sqlite.Database | undefined;
  try {
    lock = new Sqlite(path, { timeout: 0 });
    lock.exec('BEGIN EXCLUSIVE');
  } catch (thrown) {
    lock?.close();
    const missing = missingEngine(thrown);
    if (missing !== null) throw missing;
    if (thrown instanceof Sqlite.SqliteError && thrown.code.startsWith('SQLITE_BUSY')) {
      throw new Problem(
        'database-unusable',
        `The data folder ${folder} is already in use by another Strandward.`,
        whenInUse,
        { cause: thrown },
      );
    }
    throw new Problem(
      'database-unusable',
      `The data folder ${folder} cannot be locked (${path}).`,
      'Check that the service’s user may write to the folder, and that its disk is not full.',
      { cause: thrown },
    );
  }
  const locked = lock;
  return () => locked.close();
}
