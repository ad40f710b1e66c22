import type { Database } from 'better-sqlite3';
import type { LengthCorrection, Weighing } from '../../entities/spool.ts';
import { checkStored } from './stored-shapes.ts';
import type { UnreadableRows } from './unreadable-rows.ts';

interface Stated {
  readonly atMs: number;
  readonly who: string;
}

/** Lengths that users measured with a tape. */
export const lengthCorrectionTable = (db: Database, unreadable: UnreadableRows) =>
  measurementTable<LengthCorrection>(db, unreadable, 'length_correction', {
    measuredMm: 'measured_mm',
    indicatedMm: 'indicated_mm',
    uncertaintyMm: 'uncertainty_mm',
  });

/** Spools that users weighed. */
export const weighingTable = (db: Database, unreadable: UnreadableRows) =>
  measurementTable<Weighing>(db, unreadable, 'spool_weighing', {
    grossG: 'gross_g',
    tareG: 'tare_g',
    uncertaintyG: 'uncertainty_g',
  });

/** What users measured on spools. Append only: the latest row counts, and one without values takes the measurement away. */
function measurementTable<Measurement extends Stated>(
  db: Database,
  unreadable: UnreadableRows,
  table: string,
  columns: Readonly<Record<keyof Omit<Measurement, keyof Stated>, string>>,
) {
  const entries = Object.entries<string>(columns);
  const names = entries.map(([, column]) => column);
  const last = db.prepare<[number], Record<string, number | string | null>>(
    `SELECT * FROM ${table} WHERE spool_id = ? ORDER BY id DESC LIMIT 1`,
  );
  const insert = db.prepare(
    `INSERT INTO ${table} (spool_id, ${names.join(', ')}, at_ms, who) VALUES (?, ${names.map(() => '?').join(', ')}, ?, ?)`,
  );

  return {
    find(spoolId: number): Measurement | null {
      const row = last.get(spoolId);
      if (!row || names.some((column) => row[column] === null)) return null;
      return unreadable.read({ table, row: Number(row.id), runId: null }, () => {
        checkStored(table, row);
        const values = Object.fromEntries(entries.map(([name, column]) => [name, row[column]]));
        return { ...values, atMs: row.at_ms, who: row.who } as unknown as Measurement;
      });
    },
    add(spoolId: number, measurement: Omit<Measurement, keyof Stated> | null, atMs: number, who: string): void {
      const values = measurement as Readonly<Record<string, number>> | null;
      insert.run(spoolId, ...entries.map(([name]) => values?.[name] ?? null), atMs, who);
    },
  };
}
