import type { Database } from 'better-sqlite3';
import type { Lot, NewRun, Run } from '../../entities/run.ts';
import type { Values } from '../../preparation/fields.ts';
import { Problem } from '../../problem/problem.ts';
import type { Stage } from '../../stage/stage.ts';
import { preparationOf } from './stored-shapes.ts';
import type { UnreadableRows } from './unreadable-rows.ts';

interface RunRow {
  id: number;
  started_ms: number;
  ended_ms: number | null;
  time_zone: string;
  source_title: string;
  note: string;
  title: string;
  is_test: number;
  stage_word: Stage | null;
  lot_name: string | null;
  lot_preparation: string | null;
  lot_fields: string | null;
  house: string | null;
  house_run: number | null;
}

/** The last statement about the lot of a run counts. */
const RUN_WITH_LOT = `SELECT run.*, lot.name AS lot_name, lot.preparation AS lot_preparation, lot.fields AS lot_fields FROM run
  LEFT JOIN lot ON lot.id = (SELECT max(id) FROM lot WHERE run_id = run.id)`;

/** Runs: from heating up to shutting down. */
export function runTable(db: Database, unreadable: UnreadableRows) {
  const insert = db.prepare('INSERT INTO run (started_ms, time_zone, source_title) VALUES (?, ?, ?)');
  const end = db.prepare('UPDATE run SET ended_ms = ? WHERE id = ?');
  const note = db.prepare('UPDATE run SET note = ? WHERE id = ?');
  const title = db.prepare('UPDATE run SET title = ? WHERE id = ?');
  const test = db.prepare('UPDATE run SET is_test = ? WHERE id = ?');
  const stage = db.prepare('UPDATE run SET stage_word = ? WHERE id = ?');
  const insertLot = db.prepare(
    'INSERT INTO lot (run_id, name, preparation, fields, at_ms, who) VALUES (?, ?, ?, ?, ?, ?)',
  );
  const one = db.prepare<[number], RunRow>(`${RUN_WITH_LOT} WHERE run.id = ? AND deleted_ms IS NULL`);
  const all = db.prepare<[], RunRow>(`${RUN_WITH_LOT} WHERE deleted_ms IS NULL ORDER BY started_ms DESC, run.id DESC`);
  const unfinished = db.prepare<[], RunRow>(`${RUN_WITH_LOT} WHERE ended_ms IS NULL ORDER BY run.id DESC LIMIT 1`);

  // Also deleted ones, so that an old label can say so. The newest of the same name counts.
  const named = db
    .prepare<{ house: string; number: number }, number>(
      `SELECT id FROM run WHERE coalesce(house, (SELECT code FROM house)) = @house AND coalesce(house_run, id) = @number
       ORDER BY deleted_ms IS NULL DESC, house_run IS NULL DESC, id DESC LIMIT 1`,
    )
    .pluck();
  const houseCode = db.prepare<[], string>('SELECT code FROM house').pluck();
  const lastId = db.prepare("SELECT 1 FROM sqlite_sequence WHERE name = 'run'");

  /** If the fields of a preparation cannot be read, the name and the words of the user still say something. */
  const read = (row: RunRow): Run => {
    const place = { table: 'lot', row: row.id, runId: row.id };
    return runOf(row, unreadable.read(place, () => preparationOf(row.lot_fields ?? '{}')) ?? {});
  };
  const find = (runId: number): Run | null => {
    const row = one.get(runId);
    return row ? read(row) : null;
  };
  const must = (changes: number, runId: number): void => {
    if (changes === 0) throw unknownRun(runId);
  };
  return {
    find,
    all: (): Run[] => all.all().map(read),
    house: (): string => houseCode.get() ?? '',
    named: (house: string, number: number): number | null => named.get({ house, number }) ?? null,
    hasHadAny: (): boolean => lastId.get() !== undefined,
    begin(run: NewRun): Run {
      const startedMs = Math.round(run.startedMs);
      const { lastInsertRowid } = insert.run(startedMs, run.timeZone, run.sourceTitle);
      return {
        ...run,
        startedMs,
        id: Number(lastInsertRowid),
        endedMs: null,
        note: '',
        title: '',
        isTest: false,
        lot: null,
      };
    },
    end: (runId: number, endedMs: number): void => must(end.run(Math.round(endedMs), runId).changes, runId),
    setNote: (runId: number, text: string): void => must(note.run(text, runId).changes, runId),
    setTitle: (runId: number, text: string): void => must(title.run(text, runId).changes, runId),
    setTest: (runId: number, isTest: boolean): void => must(test.run(isTest ? 1 : 0, runId).changes, runId),
    /** null removes the lot. */
    setLot(runId: number, lot: Lot | null, atMs: number, who: string): void {
      insertLot.run(runId, lot?.name ?? '', lot?.preparation ?? '', JSON.stringify(lot?.values ?? {}), atMs, who);
    },
    setStatedStage: (runId: number, stated: Stage | null): void => must(stage.run(stated, runId).changes, runId),
    unfinished(): { run: Run; statedStage: Stage | null } | null {
      const row = unfinished.get();
      return row ? { run: read(row), statedStage: row.stage_word } : null;
    },
  };
}

function runOf(row: RunRow, values: Values): Run {
  return {
    id: row.id,
    startedMs: row.started_ms,
    endedMs: row.ended_ms,
    timeZone: row.time_zone,
    sourceTitle: row.source_title,
    note: row.note,
    title: row.title,
    isTest: row.is_test !== 0,
    lot: lotOf(row.lot_name ?? '', row.lot_preparation ?? '', values),
    ...(row.house_run === null ? {} : { origin: { house: row.house, number: row.house_run } }),
  };
}

function lotOf(name: string, preparation: string, values: Values): Lot | null {
  return name === '' && preparation === '' && Object.keys(values).length === 0 ? null : { name, preparation, values };
}

export function unknownRun(runId: number): Problem {
  return new Problem('unknown-run', `There is no run ${runId}.`, 'See the list of runs for those that exist.');
}
