import { existsSync } from 'node:fs';
import Sqlite from 'better-sqlite3';
import { messageOf, Problem } from '../../problem/problem.ts';
import { LAYOUT, layoutOf, migrate } from '../migrations/migrate.ts';
import { checkFile } from './check-file.ts';
import { ARCHIVE_ID } from './write-archive.ts';

/** The one run of an archive, or what is wrong with the file: plain, so that it crosses threads. */
export type Prepared = { readonly runId: number } | { readonly fault: string };

/**
 * See that the file is a whole archive that this program understands, and carry it forward to this program's layout: give a
 * copy. Reads all of it.
 */
export function prepareArchive(file: string): Prepared {
  const faults = existsSync(file) ? checkFile(file) : ['there is no such file'];
  if (faults.length > 0) return { fault: faults[0]! };
  const archive = new Sqlite(file);
  try {
    // It comes from anywhere: nothing that its schema calls may do more than compute.
    archive.pragma('trusted_schema = OFF');
    const active = "SELECT name FROM sqlite_schema WHERE type IN ('view', 'trigger')";
    const name = archive.prepare<[], string>(active).pluck().get();
    if (name !== undefined) return { fault: `it holds something that no archive holds, ${name}` };
    if (archive.pragma('application_id', { simple: true }) !== ARCHIVE_ID)
      return { fault: 'it is another kind of file' };
    const layout = layoutOf(archive);
    if (layout > LAYOUT) {
      return { fault: `a newer Strandward wrote it (layout ${layout}; this one knows up to ${LAYOUT})` };
    }
    migrate(archive);
    const runs = archive.prepare<[], number>('SELECT id FROM run WHERE ended_ms IS NOT NULL').pluck().all();
    if (runs.length !== 1) return { fault: `it holds ${runs.length} ended runs, not one` };
    return { runId: runs[0]! };
  } catch (thrown) {
    return { fault: messageOf(thrown) };
  } finally {
    archive.close();
  }
}

export function badArchive(what: string, cause?: unknown): Problem {
  return new Problem(
    'bad-archive',
    `This is no archive of a run that could be taken in: ${what}.`,
    'Give a file that “Export the whole run” made, unchanged. The record is as it was.',
    { cause },
  );
}
