import { createHash } from 'node:crypto';
import { closeSync, existsSync, fsyncSync, openSync, readFileSync, renameSync, rmSync, writeSync } from 'node:fs';
import { dirname, join } from 'node:path';
import type { Database } from 'better-sqlite3';
import { Problem } from '../problem/problem.ts';
import { counted } from '../problem/sentence.ts';
import { backupsIn } from './maintenance/backup-list.ts';
import { layoutOf } from './migrations/migrate.ts';
import { makePrivateFile } from './private-files.ts';
import { runOfBlock } from './samples/sample-ids.ts';

/** Name of the marker in the data folder. */
export const MARKER_FILE = 'strandward.marker';

/** What a database holds, in figures that only grow. */
interface Figures {
  readonly layout: number;
  /** The last id that each table has given; deleting rows does not change it. */
  readonly lastIds: Readonly<Record<string, number>>;
  /** The last run with readings in blocks, and how many these are. */
  readonly lastBlocks: { readonly runId: number; readonly readings: number } | null;
}

export interface MarkedState extends Figures {
  /** Size of the database. */
  readonly bytes: number;
  readonly timeMs: number;
  /** A service was using the database, so its write-ahead log belongs to the record. */
  readonly inUse: boolean;
  /** That log held something, so it must not be empty; absent in markers of earlier versions. */
  readonly logged?: boolean;
  /** The backup that belongs to an update of its layout that has begun; null or absent = none has. */
  readonly update?: string | null;
}

export interface Marker {
  readonly path: string;
  /** null = damaged. */
  readonly state: MarkedState | null;
}

/**
 * Reads the small file next to the database that says what should be there. A database that was lost, emptied or set back
 * would otherwise look like a new or an older one.
 * @returns null = there is none: a new data folder, or one of a version without markers
 */
export function readMarker(folder: string): Marker | null {
  const path = join(folder, MARKER_FILE);
  if (!existsSync(path)) return null;
  const [checksum, text = ''] = readFileSync(path, 'utf8').split('\n');
  return { path, state: checksum === checksumOf(text) ? (JSON.parse(text) as MarkedState) : null };
}

/** Replaces the marker as a whole: after a power cut, either the old or the new one is there. */
export function writeMarker(folder: string, state: MarkedState): void {
  const path = join(folder, MARKER_FILE);
  const part = `${path}.part`;
  const text = JSON.stringify(state);
  rmSync(part, { force: true });
  makePrivateFile(part);
  const file = openSync(part, 'r+');
  try {
    writeSync(file, `${checksumOf(text)}\n${text}\n`);
    fsyncSync(file);
  } finally {
    closeSync(file);
  }
  renameSync(part, path);
  const directory = openSync(folder, 'r');
  try {
    fsyncSync(directory);
  } finally {
    closeSync(directory);
  }
}

export function removeMarker(folder: string): void {
  rmSync(join(folder, MARKER_FILE), { force: true });
}

export function figuresOf(db: Database): Figures {
  const has = db.prepare<[string], number>('SELECT 1 FROM sqlite_schema WHERE name = ?').pluck();
  const ids =
    has.get('sqlite_sequence') === undefined
      ? []
      : (db.prepare('SELECT name, seq FROM sqlite_sequence').raw().all() as [string, number][]);
  const last =
    has.get('sample_span') === undefined
      ? undefined
      : (db.prepare('SELECT id, first_number + count AS readings FROM sample_span ORDER BY id DESC LIMIT 1').get() as
          | { id: number; readings: number }
          | undefined);
  return {
    layout: layoutOf(db),
    lastIds: Object.fromEntries(ids),
    lastBlocks: last === undefined ? null : { runId: runOfBlock(last.id), readings: last.readings },
  };
}

/**
 * What a marked database lacks, in words; null = nothing.
 * @param db as it was found, before its layout is carried forward
 */
export function whatIsMissing(db: Database, marked: MarkedState): string | null {
  const found = figuresOf(db);
  if (found.layout < marked.layout)
    return `the file is older than the record was (layout ${found.layout} instead of ${marked.layout})`;
  const missing: string[] = [];
  let entries = 0;
  const isThere = db.prepare<[string], number>('SELECT 1 FROM sqlite_schema WHERE name = ?').pluck();
  for (const [table, last] of Object.entries(marked.lastIds)) {
    // An update that was killed before it renewed the marker may have renamed the table.
    if (found.layout > marked.layout && isThere.get(table) === undefined) continue;
    const lacking = last - (found.lastIds[table] ?? 0);
    if (lacking <= 0) continue;
    if (table === 'run') missing.push(counted(lacking, 'run'));
    else entries += lacking;
  }
  if (entries > 0) missing.push(`${entries} other ${entries === 1 ? 'entry' : 'entries'}`);
  const readings = missingReadings(db, marked);
  if (readings > 0) missing.push(`${counted(readings, 'reading')} of run ${marked.lastBlocks?.runId}`);
  return missing.length === 0 ? null : `${missing.join(', ')} missing`;
}

function missingReadings(db: Database, { lastBlocks }: MarkedState): number {
  if (lastBlocks === null) return 0;
  const { runId, readings } = lastBlocks;
  // A deleted run loses its readings step by step.
  // In an older layout no run can be deleted.
  const run = db.prepare<[number], { deleted_ms?: number | null }>('SELECT * FROM run WHERE id = ?').get(runId);
  if (run === undefined || (run.deleted_ms ?? null) !== null) return 0;
  const found = figuresOf(db).lastBlocks;
  if (found !== null && found.runId > runId) return 0;
  return readings - (found?.runId === runId ? found.readings : 0);
}

/** The error for a record of which something is missing. */
export function lostRecord(dbPath: string, marker: Marker, what: string, backupFolders: readonly string[]): Problem {
  const expected =
    marker.state === null
      ? 'how much it held is not known, because its marker is damaged'
      : `on ${dayAndTime(marker.state.timeMs)} it held ${counted(marker.state.lastIds.run ?? 0, 'run')} in ${marker.state.bytes} bytes`;
  return new Problem(
    'database-broken',
    `Part of the record is lost: ${what} (${dbPath}; ${expected}).`,
    `${howToRestore(dirname(dbPath), backupFolders)} To go on with what is there instead, delete ${marker.path}. Nothing was changed.`,
  );
}

/** Names the newest backup, and what to type. */
export function howToRestore(folder: string, backupFolders: readonly string[]): string {
  const newest = backupFolders.flatMap((one) => backupsIn(one)).sort((a, b) => b.timeMs - a.timeMs)[0];
  const restore =
    newest === undefined
      ? 'No backup was found. If you have one, restore it: strandward restore FILE'
      : `Restore the newest backup, of ${dayAndTime(newest.timeMs)}: strandward restore '${newest.path}'`;
  return `${restore} --data '${folder}'.`;
}

export function dayAndTime(ms: number): string {
  return `${new Date(ms).toISOString().slice(0, 16).replace('T', ' ')} UTC`;
}

function checksumOf(text: string): string {
  return createHash('sha256').update(text).digest('hex');
}
