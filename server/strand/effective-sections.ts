import type { Stretch } from './position.ts';
import type { MeasuredSection, Section, StatedSection } from './section.ts';

/**
 * The sections as users see them, sorted by start. Users' statements take precedence over measurements and are never
 * lost: one about a section that analysis no longer finds stays as a marked stretch. Of several statements about the same
 * target the last one counts. What was cut out is not on the strand any more, and the joint is a section.
 */
export function effectiveSections(measured: readonly MeasuredSection[], stated: readonly StatedSection[]): Section[] {
  const statements = new Map<number, StatedSection>();
  const marks = new Map<number, StatedSection>();
  for (const statement of stated) {
    const [target, latest] =
      statement.measuredOrdinal === null ? [statement.id, marks] : [statement.measuredOrdinal, statements];
    const earlier = latest.get(target);
    if (earlier === undefined || isLater(statement, earlier)) latest.set(target, statement);
  }
  const sections: Section[] = [];
  for (const section of measured) {
    const statement = statements.get(section.ordinal);
    statements.delete(section.ordinal);
    if (statement === undefined) sections.push(asMeasured(section));
    else if (!statement.removed) sections.push(asAdjusted(section, statement));
  }
  for (const mark of [...marks.values(), ...statements.values()]) if (!mark.removed) sections.push(asMarked(mark));
  const cutOuts = cutOutsOf(stated);
  const left = cutOuts.length === 0 ? sections : sections.filter((section) => !isGone(section, cutOuts));
  return left.sort((a, b) => a.fromMm - b.fromMm || a.toMm - b.toMm || (a.id < b.id ? -1 : a.id > b.id ? 1 : 0));
}

/** The strand that users cut out before it was wound: rising, without overlaps. */
export function cutOutsOf(stated: readonly StatedSection[]): readonly Stretch[] {
  const sorted = stated
    .filter(({ decision, removed }) => decision === 'cutOut' && !removed)
    .sort((a, b) => a.fromMm - b.fromMm);
  const merged: Stretch[] = [];
  for (const { fromMm, toMm } of sorted) {
    const last = merged.at(-1);
    if (last !== undefined && fromMm <= last.toMm)
      merged[merged.length - 1] = { fromMm: last.fromMm, toMm: Math.max(last.toMm, toMm) };
    else merged.push({ fromMm, toMm });
  }
  return merged;
}

/** Whether all of a section was cut out. One that still grows cannot have been. */
export function isGone(
  { kind, fromMm, toMm, open }: Pick<Section, 'kind' | 'fromMm' | 'toMm' | 'open'>,
  cutOuts: readonly Stretch[],
): boolean {
  return kind !== 'joint' && !open && cutOuts.some((cut) => fromMm >= cut.fromMm && toMm <= cut.toMm);
}

function isLater(statement: StatedSection, than: StatedSection): boolean {
  return statement.atTimeMs === than.atTimeMs ? statement.id > than.id : statement.atTimeMs > than.atTimeMs;
}

/** Measurements never change, and with thousands of them most of the time would go into making the same sections again. */
const shown = new WeakMap<MeasuredSection, Section>();

function asMeasured(section: MeasuredSection): Section {
  const known = shown.get(section);
  if (known !== undefined) return known;
  const made = sectionOf(section);
  shown.set(section, made);
  return made;
}

/** Field by field: with a spread the engine would keep half a kilobyte more for each section. */
function sectionOf(section: MeasuredSection): Section {
  const { doubt } = section;
  const facts: Section = {
    id: `m${section.ordinal}`,
    kind: section.kind,
    fromMm: section.fromMm,
    toMm: section.toMm,
    fromTimeMs: section.fromTimeMs,
    toTimeMs: section.toTimeMs,
    peakMm: section.peakMm,
    peakAtMm: section.peakAtMm,
    volumeBeyondMm3: section.volumeBeyondMm3,
    certainty: section.certainty,
    verdict: section.verdict,
    note: '',
    origin: 'measured',
    open: section.open,
  };
  return doubt === undefined ? facts : { ...facts, doubt };
}

function asAdjusted(section: MeasuredSection, statement: StatedSection): Section {
  const { fromMm, verdict } = section;
  // A statement that matches the measurement says nothing new: the user took a correction back.
  if (
    statement.fromMm === fromMm &&
    statement.toMm === section.toMm &&
    statement.verdict === verdict &&
    statement.note === '' &&
    statement.decision === undefined
  ) {
    return asMeasured(section);
  }
  // The section grew after the user looked at it; the statement cannot cover strand they had not seen.
  const hasGrown = section.toTimeMs > statement.atTimeMs;
  const toMm = hasGrown ? Math.max(statement.toMm, section.toMm) : statement.toMm;
  return {
    ...asMeasured(section),
    fromMm: statement.fromMm,
    toMm,
    fromTimeMs: statement.fromMm === section.fromMm ? section.fromTimeMs : null,
    toTimeMs: toMm === section.toMm ? section.toTimeMs : null,
    verdict: statement.verdict,
    note: statement.note,
    origin: 'adjusted',
    ...decisionOf(statement),
  };
}

function asMarked(statement: StatedSection): Section {
  return {
    id: `p${statement.id}`,
    kind: statement.decision === 'cutOut' ? 'joint' : 'marked',
    fromMm: statement.fromMm,
    toMm: statement.toMm,
    fromTimeMs: null,
    toTimeMs: null,
    peakMm: null,
    peakAtMm: null,
    volumeBeyondMm3: null,
    certainty: 'sure',
    verdict: statement.verdict,
    note: statement.note,
    origin: 'user',
    open: false,
    ...decisionOf(statement),
  };
}

function decisionOf({ decision }: StatedSection): Pick<Section, 'decision'> {
  return decision === undefined ? {} : { decision };
}
