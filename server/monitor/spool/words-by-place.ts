import { effectiveSections } from '../../strand/effective-sections.ts';
import type { MeasuredSection, Section, SectionPlace, StatedSection } from '../../strand/section.ts';

/** A person's range that differs from what was measured by more than this was meant to. */
const SAME_EDGE_MM = 1;
/** A word speaks for a whole section when the stretch that it was said of covers this much of it. */
const MOST = 0.5;

interface Range {
  readonly fromMm: number;
  readonly toMm: number;
}

/** What a word was said of. */
interface PlacedWord {
  readonly word: StatedSection;
  /** The section that it was said of; null = not in the record any more. */
  readonly about: SectionPlace | null;
  readonly place: Range;
  /** The person set edges of their own. */
  readonly ownEdges: boolean;
}

/**
 * Puts what persons said onto sections that were judged anew. Under other limits sections open at other places and get
 * other ordinals, so a word goes by place: it speaks for a section of the same kind of which the stretch that it was said
 * of covers at least half, and of a larger one only for its own part. A word that finds no section stands on as a stretch
 * that the person marked; a word that took a section away then has nothing more to say.
 *
 * @param judged ordinals unique; every part in gauge lengths
 * @param recorded measured sections as they are in the record, to which the words speak
 * @param stated the words that count
 */
export function sectionsWithWords(
  judged: readonly MeasuredSection[],
  recorded: readonly MeasuredSection[],
  stated: readonly StatedSection[],
): readonly Section[] {
  const byOrdinal = new Map(recorded.map((section) => [section.ordinal, section]));
  const words: PlacedWord[] = [];
  const rewritten: StatedSection[] = [];
  const recordedIds = new Map<string, string>();
  for (const word of stated) {
    if (word.measuredOrdinal === null && word.about === null) {
      rewritten.push(word);
      recordedIds.set(`p${word.id}`, `p${word.id}`);
      continue;
    }
    const of = word.about ?? byOrdinal.get(word.measuredOrdinal ?? 0) ?? null;
    const place = of ?? word;
    const ownEdges =
      of !== null && (Math.abs(word.fromMm - of.fromMm) > SAME_EDGE_MM || Math.abs(word.toMm - of.toMm) > SAME_EDGE_MM);
    words.push({ word, about: of, place, ownEdges });
  }

  const parts: MeasuredSection[] = [];
  const taken = new Set<PlacedWord>();
  // Said of a section that is not in the record: it is not to be taken for one that is.
  const shownIds = new Map<string, string>();
  let next = judged.reduce((most, section) => Math.max(most, section.ordinal), 0) + 1;
  const say = (section: MeasuredSection, said: PlacedWord): void => {
    const { word } = said;
    const again = said.ownEdges && taken.has(said);
    const { fromMm, toMm } = said.ownEdges ? word : section;
    rewritten.push({ ...word, measuredOrdinal: section.ordinal, fromMm, toMm, removed: word.removed || again });
    if (word.measuredOrdinal === null) shownIds.set(`m${section.ordinal}`, shownId(said.place.fromMm));
    else recordedIds.set(`m${section.ordinal}`, `m${word.measuredOrdinal}`);
    taken.add(said);
  };
  for (const section of judged) {
    const about = words.filter((said) => speaksOf(said, section)).sort(newestFirst);
    const whole = about.find(({ place }) => covers(place, section));
    if (whole !== undefined || about.length === 0) {
      parts.push(section);
      if (whole !== undefined) say(section, whole);
      continue;
    }
    for (const { part, said } of cutByPlaces(section, about)) {
      const piece = { ...part, ordinal: said === null && part.fromMm === section.fromMm ? section.ordinal : next++ };
      parts.push(piece);
      if (said !== null) say(piece, said);
    }
  }
  for (const said of words) {
    if (taken.has(said) || said.word.removed) continue;
    rewritten.push({ ...said.word, measuredOrdinal: null });
    const { id, measuredOrdinal } = said.word;
    const known = measuredOrdinal !== null && byOrdinal.has(measuredOrdinal);
    recordedIds.set(`p${id}`, known ? `m${measuredOrdinal}` : `p${id}`);
  }
  for (const part of parts) {
    const id = `m${part.ordinal}`;
    if (recordedIds.has(id) || shownIds.has(id)) continue;
    const same = mostOverlapping(part, recorded);
    if (same !== null) recordedIds.set(id, `m${same.ordinal}`);
  }
  return withIds(
    effectiveSections(parts, rewritten).map((section) => ({
      ...section,
      id: recordedIds.get(section.id) ?? shownIds.get(section.id) ?? shownId(section.fromMm),
    })),
  );
}

/**
 * The id of a section that is not in the record: by its place (`j12345` = the gauge length where it was found to begin, in
 * 0.1 mm), so that it means the same section in a later answer.
 */
export function shownId(foundFromMm: number): string {
  return `j${Math.round(foundFromMm * 10)}`;
}

/** No two with the same id: parts of one section, and what begins at the same place, differ by a hair. */
function withIds(sections: readonly Section[]): readonly Section[] {
  const taken = new Set<string>();
  return sections.map((section) => {
    let id = taken.has(section.id) ? shownId(section.fromMm) : section.id;
    while (taken.has(id)) id = `j${Number(id.slice(1)) + 1}`;
    taken.add(id);
    return id === section.id ? section : { ...section, id };
  });
}

function newestFirst(a: PlacedWord, b: PlacedWord): number {
  return b.word.atTimeMs - a.word.atTimeMs || b.word.id - a.word.id;
}

function overlapMm(a: Range, b: Range): number {
  return Math.min(a.toMm, b.toMm) - Math.max(a.fromMm, b.fromMm);
}

function speaksOf({ about, place }: PlacedWord, section: MeasuredSection): boolean {
  const overlap = overlapMm(place, section);
  if (overlap < 0) return false;
  if (about === null || about.kind === section.kind)
    return overlap > 0 || section.fromMm === section.toMm || place.fromMm === place.toMm;
  // Of another kind it is the same stretch only where each is most of the other.
  const shorter = Math.min(place.toMm - place.fromMm, section.toMm - section.fromMm);
  const longer = Math.max(place.toMm - place.fromMm, section.toMm - section.fromMm);
  return shorter > 0 && overlap >= MOST * longer;
}

function covers(place: Range, section: Range): boolean {
  return overlapMm(place, section) >= MOST * (section.toMm - section.fromMm);
}

function mostOverlapping(section: MeasuredSection, among: readonly MeasuredSection[]): MeasuredSection | null {
  let best: MeasuredSection | null = null;
  let most = Number.NEGATIVE_INFINITY;
  for (const candidate of among) {
    if (candidate.kind !== section.kind) continue;
    const overlap = overlapMm(candidate, section);
    if (overlap < 0 || overlap <= most) continue;
    most = overlap;
    best = candidate;
  }
  return best;
}

/** The parts of a section between, and at, the places that words speak of. */
function cutByPlaces(
  section: MeasuredSection,
  about: readonly PlacedWord[],
): { readonly part: MeasuredSection; readonly said: PlacedWord | null }[] {
  const edges = new Set([section.fromMm, section.toMm]);
  for (const { place } of about) {
    for (const edge of [place.fromMm, place.toMm]) if (edge > section.fromMm && edge < section.toMm) edges.add(edge);
  }
  const sorted = [...edges].sort((a, b) => a - b);
  const parts: { part: MeasuredSection; said: PlacedWord | null }[] = [];
  for (let i = 0; i + 1 < sorted.length; i++) {
    const fromMm = sorted[i]!;
    const toMm = sorted[i + 1]!;
    const said = about.find(({ place }) => overlapMm(place, { fromMm, toMm }) > 0) ?? null;
    const last = parts.at(-1);
    if (last !== undefined && last.said === said)
      parts[parts.length - 1] = { part: partOf(section, last.part.fromMm, toMm), said };
    else parts.push({ part: partOf(section, fromMm, toMm), said });
  }
  return parts;
}

function partOf(section: MeasuredSection, fromMm: number, toMm: number): MeasuredSection {
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
  };
}
