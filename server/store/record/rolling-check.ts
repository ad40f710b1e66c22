import type { Database } from 'better-sqlite3';
import { Type } from 'typebox';
import { Compile } from 'typebox/compile';
import type { RollingCheck } from '../../monitor/ports/maintenance.ts';

const after = Type.Union([Type.Number(), Type.Tuple([Type.String(), Type.Number()]), Type.Null()]);
const shape = Compile(
  Type.Object({
    lastMs: Type.Number(),
    next: Type.Union([Type.Object({ part: Type.Integer(), after }), Type.Null()]),
    read: Type.Number(),
    total: Type.Number(),
    faults: Type.Array(Type.String()),
    completeMs: Type.Union([Type.Number(), Type.Null()]),
  }),
);

/** How far the daily check of a part of the record has got. */
export function rollingCheckTable(db: Database) {
  const one = db.prepare<[], string>('SELECT payload FROM rolling_check').pluck();
  const save = db.prepare('INSERT OR REPLACE INTO rolling_check (one, payload) VALUES (1, ?)');
  return {
    load(): RollingCheck | null {
      try {
        const stored: unknown = JSON.parse(one.get() ?? 'null');
        return shape.Check(stored) ? stored : null;
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
