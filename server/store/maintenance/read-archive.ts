import { existsSync } from 'node:fs';
import Sqlite from 'better-sqlite3';
import { messageOf } from '../../problem/problem.ts';
import { LAYOUT, layoutOf, migrate } from '../migrations/migrate.ts';
import { checkFile } from './check-file.ts';
import { faultOfArchive, faultOfSchema } from './check-values.ts';
import { ARCHIVE_ID } from './write-archive.ts';

/** The one run of an archive, or what is wrong with the file. Plain data, because it is copied between threads. */
export type Prepared = { readonly runId: number } | { readonly fault: string };

/**
 * Checks that the file is a complete archive that this program can read, and migrates it to the current layout. This
 * changes the file, so pass a copy. The whole file is read.
 */
export function prepareArchive(file: string): Prepared {
  if (!existsSync(file)) return { fault: 'there is no such file' };
  const archive = new Sqlite(file);
  try {
    // The file may come from anywhere: its schema must not call functions with side effects.
    archive.pragma('trusted_schema = OFF');
    if (archive.pragma('application_id', { simple: true }) !== ARCHIVE_ID)
      return { fault: 'it is another kind of file' };
    const layout = layoutOf(archive);
    if (layout > LAYOUT) {
      return { fault: `a newer Strandward wrote it (layout ${layout}; this version reads up to ${LAYOUT})` };
    }
    const fault = faultOfSchema(archive) ?? checkFile(file)[0];
    if (fault !== undefined) return { fault };
    migrate(archive);
    const runs = archive.prepare<[], number>('SELECT id FROM run WHERE ended_ms IS NOT NULL').pluck().all();
    const [runId] = runs;
    if (runId === undefined || runs.length > 1)
      return { fault: `it contains ${runs.length} finished runs instead of one` };
    const wrong = faultOfArchive(archive, runId);
    return wrong === null ? { runId } : { fault: wrong };
  } catch (thrown) {
    return { fault: messageOf(thrown) };
  } finally {
    archive.close();
  }
}
