import type { CheckedShare, RollingCheck } from './ports/maintenance.ts';

const DAY_MS = 86_400_000;
/** Everything is read in so many days, so that a bad memory card is noticed while backups from before still exist. */
const DAYS_A_ROUND = 28;
/** A longer list would be of no more use. */
const FAULTS_MAX = 20;

/** The first part is read a day after a record was begun. */
export function firstRound(nowMs: number): RollingCheck {
  return { lastMs: nowMs, next: null, read: 0, total: 0, faults: [], completeMs: null };
}

/** The share of the record to read now; 0 = none yet. A service that was off for days catches up. */
export function shareDue({ lastMs }: RollingCheck, nowMs: number): number {
  // Also due when the clock was set back.
  const days = Math.floor(Math.abs(nowMs - lastMs) / DAY_MS);
  return Math.min(days / DAYS_A_ROUND, 1);
}

/** The state after a share was read. Faults stay listed until the next round has begun. */
export function afterShare(before: RollingCheck, share: CheckedShare, nowMs: number): RollingCheck {
  const begins = before.next === null;
  const { next, total } = share;
  const known = begins ? [] : before.faults;
  return {
    lastMs: nowMs,
    next,
    read: (begins ? 0 : before.read) + share.read,
    total,
    faults: [...known, ...share.faults].slice(0, FAULTS_MAX),
    completeMs: next === null ? nowMs : before.completeMs,
  };
}
