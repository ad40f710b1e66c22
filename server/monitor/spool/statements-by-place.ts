import { effectiveSections } from '../../strand/effective-sections.ts';
import type { MeasuredSection, Section, SectionPlace, StatedSection } from '../../strand/section.ts';
import { markedTarget, recordedTarget, type SectionTarget, shownId, shownTarget } from './section-target.ts';

/** Edges stated by a user count as their own if they differ from the measured ones by more than rounding to whole mm. */
const SAME_EDGE_MM = 0.51;
/** A statement applies to a whole section if its stretch covers at least this share of it. */
const COVERED_SHARE = 0.5;
/** Edges of two statements closer than this make no section between them. */
const SHORTEST_PART_MM = 0.1;

interface Range {
  readonly fromMm: number;
  readonly toMm: number;
}

/** A statement with the stretch it refers to. */
interface PlacedStatement {
  readonly statement: StatedSection;
  /** The section that it refers to; null = no longer in the record. */
  readonly about: SectionPlace | null;
  readonly place: Range;
  /** The user changed the edges. */
  readonly ownEdges: boolean;
}

/** A newly found section, or a part of one between the edges of statements. */
interface Part {
  readonly section: MeasuredSection;
  /** The section was not divided. */
  readonly isWhole: boolean;
  /** Another part of the same section follows. */
  readonly isContinued: boolean;
  /** The newest statement that applies to it. */
  readonly placed: PlacedStatement | null;
  /** All statements that overlap it, newest first. */
  readonly overlapping: readonly PlacedStatement[];
}

/** Sections as users see them, and what a statement under each id refers to; removed sections keep their ids. */
export interface ShownSections {
  readonly sections: readonly Section[];
  readonly targets: ReadonlyMap<string, SectionTarget>;
}

/**
 * Applies users' statements to newly found sections. With other limits, sections start elsewhere and have other ordinals, so
 * a statement is matched by place: it applies to a section of the same kind if it covers at least half of it. For a longer
 * section, or one with several statements, it applies only to its own part. A statement without a matching section stays as a
 * stretch marked by the user; a removal without one has no effect.
 *
 * A new statement replaces the one shown for a section only if that one applies to no other section. Otherwise it refers to
 * the section as shown, so that a change under an id affects only what was shown under it.
 *
 * @param found new sections with unique ordinals; gauge lengths
 * @param recorded measured sections of the record, to which statements refer
 * @param stated the statements that count
 */
export function sectionsWithStatements(
  found: readonly MeasuredSection[],
  recorded: readonly MeasuredSection[],
  stated: readonly StatedSection[],
): ShownSections {
  const byOrdinal = new Map(recorded.map((section) => [section.ordinal, section]));
  const marks = stated.filter((statement) => statement.measuredOrdinal === null && statement.about === null);
  const statements = stated
    .filter((statement) => !marks.includes(statement))
    .map((statement) => withPlace(statement, byOrdinal))
    // By id, because times are unreliable: clocks are set back and replays are dated ahead.
    .sort((a, b) => b.statement.id - a.statement.id);
  const parts = partsOf(found, statements);
  const partsUnder = (placed: PlacedStatement) => parts.filter(({ overlapping }) => overlapping.includes(placed));

  const rewritten: StatedSection[] = [...marks];
  for (const part of parts) {
    const { section, placed } = part;
    if (placed === null) continue;
    const { fromMm, toMm } = placed.ownEdges ? ownRange(placed, part, partsUnder(placed)) : section;
    const removed = placed.statement.removed || (placed.ownEdges && toMm <= fromMm);
    rewritten.push({ ...placed.statement, measuredOrdinal: section.ordinal, fromMm, toMm, removed });
  }
  const ids = new SectionIds();
  for (const placed of statements) {
    if (partsUnder(placed).length > 0) continue;
    const { statement } = placed;
    rewritten.push({ ...statement, measuredOrdinal: null });
    const original = byOrdinal.get(statement.measuredOrdinal ?? 0);
    if (original === undefined) ids.assign(`p${statement.id}`, `p${statement.id}`, markedTarget(statement));
    else ids.assign(`p${statement.id}`, `m${original.ordinal}`, recordedTarget(original, statement));
  }
  for (const statement of marks) ids.assign(`p${statement.id}`, `p${statement.id}`, markedTarget(statement));

  const withStatement = new Set(statements.map(({ statement }) => statement.measuredOrdinal));
  const withoutStatement = recorded
    .filter(({ ordinal }) => !withStatement.has(ordinal))
    .map((section) => ({ section, matches: matchingSections({ about: section, place: section }, found) }));
  for (const { section, placed, isWhole, overlapping } of parts) {
    const own = `m${section.ordinal}`;
    const only = placed !== null && partsUnder(placed).length === 1 ? placed.statement : null;
    const same =
      only !== null
        ? byOrdinal.get(only.about === null ? (only.measuredOrdinal ?? 0) : 0)
        : isWhole && overlapping.length === 0
          ? withoutStatement.find(({ section: one, matches }) => isSame(one, section) && matches.length === 1)?.section
          : undefined;
    if (same !== undefined) ids.assign(own, `m${same.ordinal}`, recordedTarget(same, only, section));
    else ids.assign(own, shownId((only?.about ?? section).fromMm), shownTarget(section, only));
  }
  return ids.applyTo(
    effectiveSections(
      parts.map(({ section }) => section),
      rewritten,
    ),
  );
}

/**
 * Applies users' statements to the sections found during winding.
 * @param found recorded sections, and unmeasured ends, which are not in the record
 */
export function recordedWithStatements(
  found: readonly MeasuredSection[],
  recorded: readonly MeasuredSection[],
  stated: readonly StatedSection[],
): ShownSections {
  const byOrdinal = new Map(recorded.map((section) => [section.ordinal, section]));
  const ends = found.filter(({ ordinal }) => !byOrdinal.has(ordinal));
  const ofEnds = stated.filter(
    ({ about }) => about?.kind === 'unknown' && matchingSections({ about, place: about }, ends).length > 0,
  );
  const rest = stated.filter((statement) => !ofEnds.includes(statement));
  const ids = new SectionIds();
  const newest = new Map(rest.map((statement) => [statement.measuredOrdinal, statement]));
  for (const section of recorded) {
    const id = `m${section.ordinal}`;
    ids.assign(id, id, recordedTarget(section, newest.get(section.ordinal) ?? null));
  }
  for (const statement of rest)
    if (!byOrdinal.has(statement.measuredOrdinal ?? 0))
      ids.assign(`p${statement.id}`, `p${statement.id}`, markedTarget(statement));
  const onRecord = ids.applyTo(
    effectiveSections(
      found.filter(({ ordinal }) => byOrdinal.has(ordinal)),
      rest,
    ),
  );
  if (ends.length === 0) return onRecord;
  const atEnds = sectionsWithStatements(ends, [], ofEnds);
  return {
    sections: [...onRecord.sections, ...atEnds.sections].sort((a, b) => a.fromMm - b.fromMm || a.toMm - b.toMm),
    targets: new Map([...onRecord.targets, ...atEnds.targets]),
  };
}

/** Assigns unique ids. The order does not depend on statements, so a new statement changes no id. */
class SectionIds {
  readonly #idOf = new Map<string, string>();
  readonly #targets = new Map<string, SectionTarget>();

  /** @param own the id used by `effectiveSections` */
  assign(own: string, wanted: string, target: SectionTarget): void {
    let id = wanted;
    // Sections that start at the same place get the next free number.
    while (this.#targets.has(id)) id = `j${Number(id.slice(1)) + 1}`;
    this.#idOf.set(own, id);
    this.#targets.set(id, target);
  }

  applyTo(sections: readonly Section[]): ShownSections {
    return {
      sections: sections.map((section) => ({ ...section, id: this.#idOf.get(section.id) ?? section.id })),
      targets: this.#targets,
    };
  }
}

function withPlace(statement: StatedSection, byOrdinal: ReadonlyMap<number, MeasuredSection>): PlacedStatement {
  const about = statement.about ?? byOrdinal.get(statement.measuredOrdinal ?? 0) ?? null;
  const ownEdges =
    about !== null &&
    (Math.abs(statement.fromMm - about.fromMm) > SAME_EDGE_MM || Math.abs(statement.toMm - about.toMm) > SAME_EDGE_MM);
  return { statement, about, place: about ?? statement, ownEdges };
}

function partsOf(found: readonly MeasuredSection[], statements: readonly PlacedStatement[]): readonly Part[] {
  const matches = statements.map((placed) => ({ placed, sections: matchingSections(placed, found) }));
  let next = found.reduce((most, section) => Math.max(most, section.ordinal), 0) + 1;
  return found.flatMap((section) => {
    const about = matches.flatMap(({ placed, sections }) => (sections.includes(section) ? [placed] : []));
    const [newest] = about;
    if (
      newest === undefined ||
      (about.length === 1 && covers(newest.place, section)) ||
      section.fromMm === section.toMm
    )
      return [{ section, isWhole: true, isContinued: false, placed: newest ?? null, overlapping: about }];
    const pieces = dividedByPlaces(section, about);
    return pieces.map(({ part, placed }, i) => ({
      section: i === 0 ? part : { ...part, ordinal: next++ },
      isWhole: pieces.length === 1,
      isContinued: i + 1 < pieces.length,
      placed,
      overlapping: about.filter(({ place }) => overlaps(place, part)),
    }));
  });
}

/** This part's share of a range stated by a user, which is divided among all parts it overlaps. */
function ownRange({ statement }: PlacedStatement, part: Part, among: readonly Part[]): Range {
  const { fromMm, toMm } = part.section;
  const inOrder = [...among].sort((a, b) => a.section.fromMm - b.section.fromMm);
  const index = inOrder.indexOf(part);
  const next = inOrder[index + 1];
  const endMm = part.isContinued ? toMm : Math.max(toMm, next?.section.fromMm ?? toMm);
  return {
    fromMm: index === 0 ? statement.fromMm : Math.max(statement.fromMm, fromMm),
    toMm: next === undefined ? statement.toMm : Math.min(statement.toMm, endMm),
  };
}

function overlapMm(a: Range, b: Range): number {
  return Math.min(a.toMm, b.toMm) - Math.max(a.fromMm, b.fromMm);
}

/** The sections to which a statement about this place applies: of the same kind, or else the same stretch of another kind. */
function matchingSections(
  { about, place }: Pick<PlacedStatement, 'about' | 'place'>,
  found: readonly MeasuredSection[],
): readonly MeasuredSection[] {
  const touched = found.filter((section) => overlapMm(place, section) >= 0);
  const same = touched.filter((section) => (about === null || about.kind === section.kind) && overlaps(place, section));
  return same.length > 0 ? same : touched.filter((section) => isSameStretch(place, section));
}

/** Each covers most of the other. */
function isSameStretch(a: Range, b: Range): boolean {
  const shorter = Math.min(a.toMm - a.fromMm, b.toMm - b.fromMm);
  const longer = Math.max(a.toMm - a.fromMm, b.toMm - b.fromMm);
  return shorter > 0 && overlapMm(a, b) >= COVERED_SHARE * longer;
}

/** Whether a recorded section without statements is the same as a newly found one. */
function isSame(recorded: MeasuredSection, found: MeasuredSection): boolean {
  if (recorded.kind !== found.kind) return false;
  const isPoint = found.fromMm === found.toMm;
  return isPoint ? recorded.fromMm === found.fromMm : overlapMm(recorded, found) > 0 && covers(recorded, found);
}

function overlaps(place: Range, section: Range): boolean {
  return overlapMm(place, section) > SHORTEST_PART_MM || covers(place, section);
}

function covers(place: Range, section: Range): boolean {
  return overlapMm(place, section) >= COVERED_SHARE * (section.toMm - section.fromMm);
}

/** Divides a section at the edges of the places of statements. */
function dividedByPlaces(
  section: MeasuredSection,
  about: readonly PlacedStatement[],
): { readonly part: MeasuredSection; readonly placed: PlacedStatement | null }[] {
  const sorted = about.flatMap(({ place }) => [place.fromMm, place.toMm]).sort((a, b) => a - b);
  const parts: { part: MeasuredSection; placed: PlacedStatement | null }[] = [];
  let fromMm = section.fromMm;
  const addUpTo = (toMm: number): void => {
    const placed = about.find(({ place }) => covers(place, { fromMm, toMm })) ?? null;
    const last = parts.at(-1);
    if (last !== undefined && last.placed === placed)
      parts[parts.length - 1] = { part: partOf(section, last.part.fromMm, toMm), placed };
    else parts.push({ part: partOf(section, fromMm, toMm), placed });
    fromMm = toMm;
  };
  for (const edgeMm of sorted) {
    if (edgeMm > fromMm + SHORTEST_PART_MM && edgeMm < section.toMm - SHORTEST_PART_MM) addUpTo(edgeMm);
  }
  addUpTo(section.toMm);
  return parts;
}

function partOf(section: MeasuredSection, fromMm: number, toMm: number): MeasuredSection {
  if (fromMm === section.fromMm && toMm === section.toMm) return section;
  const length = section.toMm - section.fromMm;
  const timeAt = (mm: number) =>
    section.fromTimeMs + ((mm - section.fromMm) / length) * (section.toTimeMs - section.fromTimeMs);
  const holdsPeak = section.peakAtMm !== null && section.peakAtMm >= fromMm && section.peakAtMm <= toMm;
  return {
    ...section,
    fromMm,
    toMm,
    fromTimeMs: timeAt(fromMm),
    toTimeMs: timeAt(toMm),
    peakMm: holdsPeak ? section.peakMm : null,
    peakAtMm: holdsPeak ? section.peakAtMm : null,
    volumeBeyondMm3: null,
    open: section.open && toMm === section.toMm,
  };
}
