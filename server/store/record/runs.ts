import type { Database } from 'better-sqlite3';
import type { Run } from '../../monitor/ports.ts';
import { Problem } from '../../problem/problem.ts';
import type { Stage } from '../../strand/stage.ts';

interface RunRow {
  id: number;
  started_ms: number;
  ended_ms: number | null;
  time_zone: string;
  source_title: string;
  note: string;
  stage_word: Stage | null;
}

export type RunTable = ReturnType<typeof runTable>;

/** Runs: from heating up to shutting down. */
export function runTable(db: Database) {
  const insert = db.prepare('INSERT INTO run (started_ms, time_zone, source_title) VALUES (?, ?, ?)');
  const end = db.prepare('UPDATE run SET ended_ms = ? WHERE id = ?');
  const note = db.prepare('UPDATE run SET note = ? WHERE id = ?');
  const word = db.prepare('UPDATE run SET stage_word = ? WHERE id = ?');
  const one = db.prepare<[number], RunRow>('SELECT * FROM run WHERE id = ?');
  const all = db.prepare<[], RunRow>('SELECT * FROM run ORDER BY started_ms DESC, id DESC');
  const unfinished = db.prepare<[], RunRow>('SELECT * FROM run WHERE ended_ms IS NULL ORDER BY id DESC LIMIT 1');

  const find = (runId: number): Run | null => {
    const row = one.get(runId);
    return row ? runOf(row) : null;
  };
  const must = (changes: number, runId: number): void => {
    if (changes === 0) throw unknownRun(runId);
  };
  return {
    find,
    all: (): Run[] => all.all().map(runOf),
    begin(run: Omit<Run, 'id' | 'endedMs' | 'note'>): Run {
      const { lastInsertRowid } = insert.run(Math.round(run.startedMs), run.timeZone, run.sourceTitle);
      return find(Number(lastInsertRowid))!;
    },
    end: (runId: number, endedMs: number): void => must(end.run(Math.round(endedMs), runId).changes, runId),
    setNote: (runId: number, text: string): void => must(note.run(text, runId).changes, runId),
    setStageWord: (runId: number, stage: Stage | null): void => must(word.run(stage, runId).changes, runId),
    unfinished(): { run: Run; stageWord: Stage | null } | null {
      const row = unfinished.get();
      return row ? { run: runOf(row), stageWord: row.stage_word } : null;
    },
  };
}

function runOf(row: RunRow): Run {
  return {
    id: row.id,
    startedMs: row.started_ms,
    endedMs: row.ended_ms,
    timeZone: row.time_zone,
    sourceTitle: row.source_title,
    note: row.note,
  };
}

export function unknownRun(runId: number): Problem {
  return new Problem('unknown-run', `There is no run ${runId}.`, 'See the list of runs for those that exist.');
}
