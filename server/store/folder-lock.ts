import { join } from 'node:path';
import Sqlite from 'better-sqlite3';
import { Problem } from '../problem/problem.ts';

/**
 * Keeps a second service off a data folder. The lock is SQLite's own file lock on an empty file beside the database:
 * unlike a file with a process number it is gone with its process, however that ends, and holds across containers that
 * share the folder.
 * @param whenInUse what to do where another one has it
 * @throws Problem `database-unusable`
 */
export function lockFolder(
  folder: string,
  whenInUse = 'Stop the other one, or choose another data folder.',
): () => void {
  const path = join(folder, 'strandward.lock');
  let lock: Sqlite.Database | undefined;
  try {
    lock = new Sqlite(path, { timeout: 0 });
    lock.exec('BEGIN EXCLUSIVE');
  } catch (thrown) {
    lock?.close();
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
      'Check that the folder is writable for the user that runs the service, and that its disk is not full.',
      { cause: thrown },
    );
  }
  const held = lock;
  return () => held.close();
}
