import type { Database } from 'better-sqlite3';
import type { UnreadableSection } from '../../monitor/ports/record.ts';
import { Problem } from '../../problem/problem.ts';
import type { Decision, MeasuredSection, SectionPlace, StatedSection, Verdict } from '../../strand/section.ts';
import { checkStored, measuredSectionOf } from './stored-shapes.ts';
import type { UnreadableRows } from './unreadable-rows.ts';

interface MeasuredRow {
  run_id: number;
  ordinal: number;
  from_mm: number;
  to_mm: number;
  payload: string;
}

interface StatedRow {
  id: number;
  run_id: number;
  target: string;
  measured_ordinal: number | null;
  from_mm: number;
  to_mm: number;
  verdict: string;
  note: string;
  removed: number;
  at_time_ms: number;
  about_kind: string | null;
  about_from_mm: number | null;
  about_to_mm: number | null;
  decision: string | null;
  who: string | null;
}

/** Sections: what the detector measured and, in a separate table, what users stated. */
export function sectionTable(db: Database, unreadable: UnreadableRows) {
  const upsert = db.prepare(
    `INSERT INTO measured_section (run_id, ordinal, kind, verdict, from_mm, to_mm, payload) VALUES (?, ?, ?, ?, ?, ?, ?)
     ON CONFLICT (run_id, ordinal) DO UPDATE SET kind = excluded.kind, verdict = excluded.verdict,
       from_mm = excluded.from_mm, to_mm = excluded.to_mm, payload = excluded.payload`,
  );
  const measured = db.prepare<[number], MeasuredRow>(
    'SELECT run_id, ordinal, from_mm, to_mm, payload FROM measured_section WHERE run_id = ? ORDER BY ordinal',
  );
  const read = (row: MeasuredRow) => unreadable.read(placeOfMeasured(row), () => measuredSectionOf(row.payload));
  const insertStated = db.prepare(
    `INSERT INTO stated_section (run_id, target, measured_ordinal, from_mm, to_mm, verdict, note, removed, at_time_ms,
       about_kind, about_from_mm, about_to_mm, decision, who)
     VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
  );
  const setTarget = db.prepare('UPDATE stated_section SET target = ? WHERE id = ?');
  const targetOf = db
    .prepare<[number, number], string>('SELECT target FROM stated_section WHERE run_id = ? AND id = ?')
    .pluck();
  const one = db.prepare<[number], StatedRow>('SELECT * FROM stated_section WHERE id = ?');
  const counting = db.prepare<[number, number], StatedRow>(
    `SELECT * FROM stated_section WHERE id IN (SELECT max(id) FROM stated_section WHERE run_id = ? GROUP BY target)
     AND run_id = ? ORDER BY id`,
  );

  const newestOf = db
    .prepare<[number, string], number>('SELECT max(id) FROM stated_section WHERE run_id = ? AND target = ?')
    .pluck();

  /**
   * What a statement is about: a recorded section, a section that only certain limits show (known by its kind and place), or
   * a marked stretch (known by the id of its first statement, and null here until that is stored).
   */
  const targetFor = (runId: number, section: Omit<StatedSection, 'id'>, replaces: number | null): string | null => {
    if (replaces !== null) {
      const target = targetOf.get(runId, replaces);
      if (target === undefined) {
        throw new Problem(
          'unknown-section',
          `Run ${runId} has no stated section ${replaces} to replace.`,
          'Reload the sections: someone may have changed them.',
        );
      }
      return target;
    }
    if (section.measuredOrdinal !== null) return `m${section.measuredOrdinal}`;
    const { about } = section;
    return about === null ? null : `${about.kind} ${Math.round(about.fromMm * 10)}-${Math.round(about.toMm * 10)}`;
  };

  return {
    saveMeasured: db.transaction((runId: number, sections: readonly MeasuredSection[]): void => {
      for (const s of sections) {
        upsert.run(runId, s.ordinal, s.kind, s.verdict, s.fromMm, s.toMm, JSON.stringify(s));
      }
    }),
    measured: (runId: number): MeasuredSection[] => measured.all(runId).flatMap((row) => read(row) ?? []),
    unreadable: (runId: number): UnreadableSection[] =>
      measured.all(runId).flatMap((row) => (read(row) === null ? [unreadableOf(row)] : [])),
    saveStated: db.transaction(
      (runId: number, section: Omit<StatedSection, 'id'>, replaces: number | null): StatedSection => {
        const target = targetFor(runId, section, replaces);
        const { lastInsertRowid } = insertStated.run(
          runId,
          target ?? '',
          section.measuredOrdinal,
          section.fromMm,
          section.toMm,
          section.verdict,
          section.note,
          section.removed ? 1 : 0,
          section.atTimeMs,
          section.about?.kind ?? null,
          section.about?.fromMm ?? null,
          section.about?.toMm ?? null,
          section.decision ?? null,
          section.who ?? null,
        );
        const id = Number(lastInsertRowid);
        if (target === null) setTarget.run(`p${id}`, id);
        return { ...section, id };
      },
    ),
    statedById(id: number): { section: StatedSection; runId: number; replacedBy: number | null } | null {
      const row = one.get(id);
      if (!row) return null;
      const newest = newestOf.get(row.run_id, row.target) ?? id;
      const section = unreadable.read(placeOfStated(row), () => statedOf(row));
      return section && { section, runId: row.run_id, replacedBy: newest === id ? null : newest };
    },
    /** The last statement about each target, including those that dismiss a section. */
    stated: (runId: number): StatedSection[] => unreadable.all(counting.all(runId, runId), placeOfStated, statedOf),
  };
}

const placeOfMeasured = ({ run_id: runId, ordinal }: MeasuredRow) => ({
  table: 'measured_section',
  row: `${runId}/${ordinal}`,
  runId,
});

/** Its place is stored twice. If that cannot be read either, it may be anywhere. */
function unreadableOf({ ordinal, from_mm: fromMm, to_mm: toMm }: MeasuredRow): UnreadableSection {
  const isPlace = Number.isFinite(fromMm) && Number.isFinite(toMm) && fromMm <= toMm;
  return {
    ordinal,
    fromMm: isPlace ? fromMm : Number.NEGATIVE_INFINITY,
    toMm: isPlace ? toMm : Number.POSITIVE_INFINITY,
  };
}

const placeOfStated = ({ id, run_id: runId }: StatedRow) => ({ table: 'stated_section', row: id, runId });

/** @throws Error if the row is damaged */
function statedOf(row: StatedRow): StatedSection {
  checkStored('stated_section', row);
  return {
    id: row.id,
    measuredOrdinal: row.measured_ordinal,
    fromMm: row.from_mm,
    toMm: row.to_mm,
    verdict: row.verdict as Verdict,
    note: row.note,
    removed: row.removed === 1,
    atTimeMs: row.at_time_ms,
    about: aboutOf(row),
    ...(row.decision === null ? {} : { decision: row.decision as Decision }),
    ...(row.who === null ? {} : { who: row.who }),
  };
}

function aboutOf({ about_kind: kind, about_from_mm: fromMm, about_to_mm: toMm }: StatedRow): SectionPlace | null {
  return kind === null || fromMm === null || toMm === null
    ? null
    : { kind: kind as SectionPlace['kind'], fromMm, toMm };
}
