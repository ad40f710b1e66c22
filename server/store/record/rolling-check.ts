import type { Database } from 'better-sqlite3';
import type { RollingCheck } from '../../monitor/ports/maintenance.ts';

/** How far the daily check of a part of the record has got. */
export function rollingCheckTable(db: Database) {
  const one = db.prepare<[], string>('SELECT payload FROM rolling_check').pluck();
  const save = db.prepare('INSERT OR REPLACE INTO rolling_check (one, payload) VALUES (1, ?)');
  return {
    load(): RollingCheck | null {
      try {
        const stored: unknown = JSON.parse(one.get() ?? 'null');
        return isRollingCheck(stored) ? stored : null;
      } catch {
        // Damaged: the check begins again.
        return null;
      }
    },
    save(check: RollingCheck): void {
      save.run(JSON.stringify(check));
    },
  };
}

function isRollingCheck(stored: unknown): stored is RollingCheck {
  if (typeof stored !== 'object' || stored === null) return false;
  const { lastMs, read, faults, completeMs } = stored as Partial<RollingCheck>;
  return [lastMs, read].every(Number.isFinite) && Array.isArray(faults) && completeMs !== undefined;
}
