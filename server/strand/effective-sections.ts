import type { MeasuredSection, Section, StatedSection } from './section.ts';

/**
 * The sections as users see them, sorted by start. Users' statements take precedence over measurements and are never
 * lost: one about a section that analysis no longer finds stays as a marked stretch. Of several statements about the same
 * target the last one counts.
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
  return sections.sort((a, b) => a.fromMm - b.fromMm || a.toMm - b.toMm || (a.id < b.id ? -1 : a.id > b.id ? 1 : 0));
}

function isLater(statement: StatedSection, than: StatedSection): boolean {
  return statement.atTimeMs === than.atTimeMs ? statement.id > than.id : statement.atTimeMs > than.atTimeMs;
}

function asMeasured(section: MeasuredSection): Section {
  const { ordinal, ...facts } = section;
  return { ...facts, id: `m${ordinal}`, note: '', origin: 'measured' };
}

function asAdjusted(section: MeasuredSection, statement: StatedSection): Section {
  const { fromMm, verdict } = section;
  // A statement that matches the measurement says nothing new: the user took a correction back.
  if (
    statement.fromMm === fromMm &&
    statement.toMm === section.toMm &&
    statement.verdict === verdict &&
    statement.note === ''
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
  };
}

function asMarked(statement: StatedSection): Section {
  return {
    id: `p${statement.id}`,
    kind: 'marked',
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
  };
}
