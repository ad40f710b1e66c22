import { messageOf } from '../problem/problem.ts';
import type { OpenDatabase } from './database.ts';
import { sizeOf } from './private-files.ts';
import { sealRowGroups } from './row-checksums.ts';

/** Readings of no more than this time are only in the write-ahead log. */
export const CHECKPOINT_EVERY_MS = 300_000;
/** A reader that delays a checkpoint is waited for this long before it is reported. */
const CHECKPOINT_LATE_MS = 3 * CHECKPOINT_EVERY_MS;
/** A write-ahead log that a slow reader made larger than this is truncated as soon as no one reads. */
const WAL_BYTES_MAX = 32 * 2 ** 20;
const ROUND_EVERY_MS = 10_000;

/**
 * Looks after the database file while it is written: checkpoints its log and keeps the marker and the
 * checksums of rows up to date.
 * @param trouble called once for each fault until it worked again
 * @returns to be called once a second
 */
export function databaseUpkeep(
  { db, path, doubt, mark, markLog }: OpenDatabase,
  trouble: (what: string) => void = () => {},
): (nowMs: number) => void {
  const newest = db.prepare("SELECT group_concat(seq) FROM sqlite_sequence WHERE name IN ('run', 'spool')").pluck();
  let marked: unknown;
  let roundMs = Number.NEGATIVE_INFINITY;
  let checkpointMs: number | null = null;
  let doubtTold = doubt === null;
  const failing = new Set<string>();
  const attempt = (task: string, work: () => void): void => {
    try {
      work();
      failing.delete(task);
    } catch (thrown) {
      if (!failing.has(task)) trouble(`${task}: ${messageOf(thrown)}`);
      failing.add(task);
    }
  };

  const logBytes = () => sizeOf(`${path}-wal`);
  const marking = (work: () => void) => attempt('The marker of the record could not be written', work);

  /**
   * Copies the log into the database and empties it. It waits a tenth of a second for readers, then copies what it can.
   * The marker says so first: otherwise, after a kill between the two, the emptied log would seem lost.
   */
  const emptyLog = (): { log: number; checkpointed: number } => {
    marking(() => markLog(false));
    return (db.pragma('wal_checkpoint(TRUNCATE)') as { log: number; checkpointed: number }[])[0]!;
  };

  const checkpoint = (nowMs: number, sinceMs: number): void => {
    sealRowGroups(db);
    const state = emptyLog();
    if (state.checkpointed < state.log) {
      if (nowMs - sinceMs >= CHECKPOINT_LATE_MS) throw new Error('another program has been reading for too long');
      return;
    }
    checkpointMs = nowMs;
    marking(mark);
  };

  return (nowMs) => {
    if (!doubtTold && doubt !== null) trouble(doubt);
    doubtTold = true;
    const now = newest.get();
    if (now !== marked) {
      marking(() => {
        mark();
        marked = now;
      });
    }
    // Also due when the clock has just been set back.
    if (Math.abs(nowMs - roundMs) < ROUND_EVERY_MS) return;
    roundMs = nowMs;
    checkpointMs = Math.min(checkpointMs ?? nowMs, nowMs);
    const sinceMs = checkpointMs;
    if (nowMs - sinceMs >= CHECKPOINT_EVERY_MS) {
      attempt('The write-ahead log could not be copied into the database', () => checkpoint(nowMs, sinceMs));
    }
    if (logBytes() > WAL_BYTES_MAX) emptyLog();
    if (logBytes() > 0) marking(() => markLog(true));
  };
}
