import type { Database } from 'better-sqlite3';

const DAY_MS = 86_400_000;
/** With more, a line that runs once a week would keep for years what should be kept for months. */
const SEEN_MAX = 30;

/**
 * The days on which the service has run. The clock may be ahead by months, so what is deleted for good by its age must be older than
 * that many of them, or 30, as well: time that has not passed adds a day with each start, but not more.
 */
export function daysSeen(db: Database) {
  // Those that are still to come were seen by a clock that was ahead.
  const forgetLater = db.prepare('DELETE FROM day_seen WHERE day > ?');
  const add = db.prepare('INSERT OR IGNORE INTO day_seen VALUES (?)');
  const nth = db
    .prepare<[number, number], number>('SELECT day FROM day_seen WHERE day <= ? ORDER BY day DESC LIMIT 1 OFFSET ?')
    .pluck();
  const dayOf = (timeMs: number) => Math.floor(timeMs / DAY_MS);
  return {
    add: db.transaction((nowMs: number): void => {
      forgetLater.run(dayOf(nowMs));
      add.run(dayOf(nowMs));
    }),
    /** What is dated before then is older than a number of days, of which the service has seen as many, or 30. @param days at least 1 */
    olderThan(days: number, nowMs: number): number {
      const day = nth.get(dayOf(nowMs), Math.min(days, SEEN_MAX) - 1) ?? Number.NEGATIVE_INFINITY;
      return Math.min(nowMs - days * DAY_MS, day * DAY_MS);
    },
  };
}
