import type { Database } from 'better-sqlite3';
import type { SpoolChoices } from '../../entities/spool.ts';
import { CUT_OBJECTIVES } from '../../strand/plan/cut-request.ts';
import { checkStored } from './stored-shapes.ts';
import type { UnreadableRows } from './unreadable-rows.ts';

interface ChoiceRow {
  id: number;
  printer_id: number;
  objective: string;
  shortest_mm: number | null;
  doubtful: string;
  unknown: string;
  prints: string;
}

/** How users want a spool judged and cut. Append only: the latest row counts. */
export function spoolChoiceTable(db: Database, unreadable: UnreadableRows) {
  const lastChoice = db.prepare<[number], ChoiceRow>(
    'SELECT * FROM spool_choice WHERE spool_id = ? ORDER BY id DESC LIMIT 1',
  );
  const insertChoice = db.prepare(
    `INSERT INTO spool_choice (spool_id, printer_id, objective, shortest_mm, doubtful, unknown, prints, at_ms, who)
     VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)`,
  );
  return {
    find(spoolId: number): SpoolChoices | null {
      const row = lastChoice.get(spoolId);
      if (row === undefined) return null;
      return unreadable.read({ table: 'spool_choice', row: row.id, runId: null }, () => choicesOf(row));
    },
    add(spoolId: number, choices: SpoolChoices, atMs: number, who: string): void {
      const { printerId, objective, shortestMm, doubtful, unknown, prints } = choices;
      insertChoice.run(spoolId, printerId, objective, shortestMm, doubtful, unknown, JSON.stringify(prints), atMs, who);
    },
  };
}

/** @throws Error if the row is damaged */
function choicesOf(row: ChoiceRow): SpoolChoices {
  checkStored('spool_choice', row);
  return {
    printerId: row.printer_id,
    objective: CUT_OBJECTIVES.find((one) => one === row.objective) ?? 'mostLength',
    prints: JSON.parse(row.prints) as SpoolChoices['prints'],
    shortestMm: row.shortest_mm,
    doubtful: row.doubtful === 'keep' ? 'keep' : 'cut',
    unknown: row.unknown === 'keep' ? 'keep' : 'cut',
  };
}
