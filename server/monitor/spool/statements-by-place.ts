import { effectiveSections } from '../../strand/effective-sections.ts';
import type { MeasuredSection, Section, SectionPlace, StatedSection } from '../../strand/section.ts';
import { markedTarget, recordedTarget, type SectionTarget, shownId, shownTarget } from './section-target.ts';

/** A person's range that differs from what was measured by more than this was meant to. */
const SAME_EDGE_MM = 1;
/** A word speaks for a whole section when the stretch that it was said of covers this much of it. */
const MOST = 0.5;
/** Places of two words that differ by less than this make no section between them. */
const HAIR_MM = 0.1;

interface Range {
  readonly fromMm: number;
  readonly toMm: number;
}

/** What a word was said of. */
interface PlacedStatement {
  readonly statement: StatedSection;
  /** The section that it was said of; null = not in the record any more. */
  readonly about: SectionPlace | null;
  readonly place: Range;
  /** The person set edges of their own. */
  readonly ownEdges: boolean;
}

/** A section that was judged anew, or a part of one between places that words speak of. */
interface Part {
  readonly section: MeasuredSection;
  /** It is the section from end to end. */
  readonly whole: boolean;
  /** Another part of the same section follows. */
  readonly goesOn: boolean;
  readonly said: PlacedStatement | null;
  /** All words that reach it, the newest first. */
  readonly reached: readonly PlacedStatement[];
}

/** Sections as users see them, and what a statement made under each id is about; ids of removed sections too. */
export interface ShownSections {
  readonly sections: readonly Section[];
  readonly targets: ReadonlyMap<string, SectionTarget>;
}

/**
 * Puts what persons said onto sections that were judged anew. Under other limits sections open at other places and get
 * other ordinals, so a word goes by place: it speaks for a section of the same kind of which the stretch that it was said
 * of covers at least half, and of a larger one, or of one that others speak of too, only for its own part. A word that finds
 * no section stands on as a stretch that the person marked; a word that took a section away then has nothing more to say.
 *
 * A new statement replaces the one that a section shows only where that speaks for no other section; else it is about what
 * is shown. So what is changed under an id is what was shown under it.
 *
 * @param judged ordinals unique; every part in gauge lengths
 * @param recorded measured sections as they are in the record, to which the words speak
 * @param stated the words that count
 */
export function sectionsWithStatements(
  judged: readonly MeasuredSection[],
  recorded: readonly MeasuredSection[],
  stated: readonly StatedSection[],
): ShownSections {
  const byOrdinal = new Map(recorded.map((section) => [section.ordinal, section]));
  const marks = stated.filter((statement) => statement.measuredOrdinal === null && statement.about === null);
  const statements = stated
    .filter((statement) => !marks.includes(statement))
    .map((statement) => placed(statement, byOrdinal))
    // Clocks are set back, and a replay dates ahead: the order in which words were recorded is surer.
    .sort((a, b) => b.statement.id - a.statement.id);
  const parts = partsOf(judged, statements);
  const reach = new Map(statements.map((said) => [said, parts.filter(({ reached }) => reached.includes(said))]));

  const rewritten: StatedSection[] = [...marks];
  for (const part of parts) {
    const { section, said } = part;
    if (said === null) continue;
    const { fromMm, toMm } = said.ownEdges ? ownRange(said, part, reach.get(said)!) : section;
    const removed = said.statement.removed || (said.ownEdges && toMm <= fromMm);
    rewritten.push({ ...said.statement, measuredOrdinal: section.ordinal, fromMm, toMm, removed });
  }
  const ids = new Ids();
  for (const said of statements) {
    if (reach.get(said)!.length > 0) continue;
    const { statement } = said;
    rewritten.push({ ...statement, measuredOrdinal: null });
    const of = byOrdinal.get(statement.measuredOrdinal ?? 0);
    if (of === undefined) ids.give(`p${statement.id}`, `p${statement.id}`, markedTarget(statement));
    else ids.give(`p${statement.id}`, `m${of.ordinal}`, recordedTarget(of, statement));
  }
  for (const statement of marks) ids.give(`p${statement.id}`, `p${statement.id}`, markedTarget(statement));

  const spoken = new Set(statements.map(({ statement }) => statement.measuredOrdinal));
  const silent = recorded
    .filter(({ ordinal }) => !spoken.has(ordinal))
    .map((section) => ({ section, speaksFor: spokenFor({ about: section, place: section }, judged) }));
  for (const { section, said, whole, reached } of parts) {
    const own = `m${section.ordinal}`;
    const only = said !== null && reach.get(said)!.length === 1 ? said.statement : null;
    const same =
      only !== null
        ? byOrdinal.get(only.about === null ? (only.measuredOrdinal ?? 0) : 0)
        : whole && reached.length === 0
          ? silent.find(({ section: one, speaksFor }) => isSame(one, section) && speaksFor.length === 1)?.section
          : undefined;
    if (same !== undefined) ids.give(own, `m${same.ordinal}`, recordedTarget(same, only, section));
    else ids.give(own, shownId((only?.about ?? section).fromMm), shownTarget(section, only));
  }
  return ids.shown(
    effectiveSections(
      parts.map(({ section }) => section),
      rewritten,
    ),
  );
}

/**
 * What was found while it was wound, with users' statements.
 * @param found recorded sections, and ends that were never measured: those are not in the record
 */
export function recordedWithText(
  found: readonly MeasuredSection[],
  recorded: readonly MeasuredSection[],
  stated: readonly StatedSection[],
): ShownSections {
  const byOrdinal = new Map(recorded.map((section) => [section.ordinal, section]));
  const ends = found.filter(({ ordinal }) => !byOrdinal.has(ordinal));
  const ofEnds = stated.filter(
    ({ about }) => about?.kind === 'unknown' && spokenFor({ about, place: about }, ends).length > 0,
  );
  const rest = stated.filter((statement) => !ofEnds.includes(statement));
  const ids = new Ids();
  const newest = new Map(rest.map((statement) => [statement.measuredOrdinal, statement]));
  for (const section of recorded) {
    const id = `m${section.ordinal}`;
    ids.give(id, id, recordedTarget(section, newest.get(section.ordinal) ?? null));
  }
  for (const statement of rest)
    if (!byOrdinal.has(statement.measuredOrdinal ?? 0))
      ids.give(`p${statement.id}`, `p${statement.id}`, markedTarget(statement));
  const onRecord = ids.shown(
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

/** Gives each section an id of its own. The order does not depend on statements, so a new one moves no id. */
class Ids {
  readonly #idOf = new Map<string, string>();
  readonly #targets = new Map<string, SectionTarget>();

  /** @param own what `effectiveSections` calls it */
  give(own: string, wanted: string, target: SectionTarget): void {
    let id = wanted;
    // What begins at the same place differs by a hair.
    while (this.#targets.has(id)) id = `j${Number(id.slice(1)) + 1}`;
    this.#idOf.set(own, id);
    this.#targets.set(id, target);
  }

  shown(sections: readonly Section[]): ShownSections {
    return {
      sections: sections.map((section) => ({ ...section, id: this.#idOf.get(section.id) ?? section.id })),
      targets: this.#targets,
    };
  }
}

function placed(statement: StatedSection, byOrdinal: ReadonlyMap<number, MeasuredSection>): PlacedStatement {
  const about = statement.about ?? byOrdinal.get(statement.measuredOrdinal ?? 0) ?? null;
  const ownEdges =
    about !== null &&
    (Math.abs(statement.fromMm - about.fromMm) > SAME_EDGE_MM || Math.abs(statement.toMm - about.toMm) > SAME_EDGE_MM);
  return { statement, about, place: about ?? statement, ownEdges };
}

function partsOf(judged: readonly MeasuredSection[], statements: readonly PlacedStatement[]): readonly Part[] {
  const speakers = new Map<MeasuredSection, PlacedStatement[]>(judged.map((section) => [section, []]));
  for (const said of statements) for (const section of spokenFor(said, judged)) speakers.get(section)!.push(said);
  let next = judged.reduce((most, section) => Math.max(most, section.ordinal), 0) + 1;
  return judged.flatMap((section) => {
    const about = speakers.get(section)!;
    const [only] = about;
    if (only === undefined || (about.length === 1 && covers(only.place, section)) || section.fromMm === section.toMm)
      return [{ section, whole: true, goesOn: false, said: only ?? null, reached: about }];
    const pieces = cutByPlaces(section, about);
    return pieces.map(({ part, said }, i) => ({
      section: i === 0 ? part : { ...part, ordinal: next++ },
      whole: pieces.length === 1,
      goesOn: i + 1 < pieces.length,
      said,
      reached: about.filter(({ place }) => reaches(place, part)),
    }));
  });
}

/** Of the range that a person set, what this part shows: a word that reaches several parts is shared out among them. */
function ownRange({ statement }: PlacedStatement, part: Part, among: readonly Part[]): Range {
  const { fromMm, toMm } = part.section;
  const inOrder = [...among].sort((a, b) => a.section.fromMm - b.section.fromMm);
  const at = inOrder.indexOf(part);
  const next = inOrder[at + 1];
  const endMm = part.goesOn ? toMm : Math.max(toMm, next?.section.fromMm ?? toMm);
  return {
    fromMm: at === 0 ? statement.fromMm : Math.max(statement.fromMm, fromMm),
    toMm: next === undefined ? statement.toMm : Math.min(statement.toMm, endMm),
  };
}

function overlapMm(a: Range, b: Range): number {
  return Math.min(a.toMm, b.toMm) - Math.max(a.fromMm, b.fromMm);
}

/** The sections that a word said of this place speaks for: of its own kind, or else the same stretch of another kind. */
function spokenFor(
  { about, place }: Pick<PlacedStatement, 'about' | 'place'>,
  judged: readonly MeasuredSection[],
): readonly MeasuredSection[] {
  const touched = judged.filter((section) => overlapMm(place, section) >= 0);
  const same = touched.filter((section) => (about === null || about.kind === section.kind) && reaches(place, section));
  return same.length > 0 ? same : touched.filter((section) => isSameStretch(place, section));
}

/** Each is most of the other. */
function isSameStretch(a: Range, b: Range): boolean {
  const shorter = Math.min(a.toMm - a.fromMm, b.toMm - b.fromMm);
  const longer = Math.max(a.toMm - a.fromMm, b.toMm - b.fromMm);
  return shorter > 0 && overlapMm(a, b) >= MOST * longer;
}

/** A recorded section that nobody spoke of is the same as a judged one where what is said of it speaks for all of that. */
function isSame(recorded: MeasuredSection, judged: MeasuredSection): boolean {
  if (recorded.kind !== judged.kind) return false;
  const isPoint = judged.fromMm === judged.toMm;
  return isPoint ? recorded.fromMm === judged.fromMm : overlapMm(recorded, judged) > 0 && covers(recorded, judged);
}

function reaches(place: Range, section: Range): boolean {
  return overlapMm(place, section) > HAIR_MM || covers(place, section);
}

function covers(place: Range, section: Range): boolean {
  return overlapMm(place, section) >= MOST * (section.toMm - section.fromMm);
}

/** The parts of a section between, and at, the places that words speak of. */
function cutByPlaces(
  section: MeasuredSection,
  about: readonly PlacedStatement[],
): { readonly part: MeasuredSection; readonly said: PlacedStatement | null }[] {
  const sorted = about.flatMap(({ place }) => [place.fromMm, place.toMm]).sort((a, b) => a - b);
  const edges = [section.fromMm];
  for (const edge of sorted) if (edge > edges.at(-1)! + HAIR_MM && edge < section.toMm - HAIR_MM) edges.push(edge);
  edges.push(section.toMm);
  const parts: { part: MeasuredSection; said: PlacedStatement | null }[] = [];
  for (let i = 0; i + 1 < edges.length; i++) {
    const fromMm = edges[i]!;
    const toMm = edges[i + 1]!;
    const said = about.find(({ place }) => covers(place, { fromMm, toMm })) ?? null;
    const last = parts.at(-1);
    if (last !== undefined && last.said === said)
      parts[parts.length - 1] = { part: partOf(section, last.part.fromMm, toMm), said };
    else parts.push({ part: partOf(section, fromMm, toMm), said });
  }
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
