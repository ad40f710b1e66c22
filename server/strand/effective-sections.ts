import type { MeasuredSection, Section, StatedSection } from './section.ts';

/**
 * The sections as everybody sees them, by where they begin. What a person stated wins over what was measured, and is
 * never lost: a word about a section that a re-analysis no longer finds stands on as a stretch that the person marked.
 * Of several words about the same target the last one counts.
 */
export function effectiveSections(measured: readonly MeasuredSection[], stated: readonly StatedSection[]): Section[] {
  const words = new Map<number, StatedSection>();
  const marks = new Map<number, StatedSection>();
  for (const word of stated) {
    const [target, of] = word.measuredOrdinal === null ? [word.id, marks] : [word.measuredOrdinal, words];
    const before = of.get(target);
    if (before === undefined || isLater(word, before)) of.set(target, word);
  }
  const sections: Section[] = [];
  for (const section of measured) {
    const word = words.get(section.ordinal);
    words.delete(section.ordinal);
    if (word === undefined) sections.push(asMeasured(section));
    else if (!word.removed) sections.push(asAdjusted(section, word));
  }
  for (const mark of [...marks.values(), ...words.values()]) if (!mark.removed) sections.push(asMarked(mark));
  return sections.sort((a, b) => a.fromMm - b.fromMm || a.toMm - b.toMm || (a.id < b.id ? -1 : a.id > b.id ? 1 : 0));
}

function isLater(word: StatedSection, than: StatedSection): boolean {
  return word.atTimeMs === than.atTimeMs ? word.id > than.id : word.atTimeMs > than.atTimeMs;
}

function asMeasured(section: MeasuredSection): Section {
  const { ordinal, ...facts } = section;
  return { ...facts, id: `m${ordinal}`, note: '', origin: 'measured' };
}

function asAdjusted(section: MeasuredSection, word: StatedSection): Section {
  const { fromMm, verdict } = section;
  // A person who took back what they said let the measurement stand.
  if (word.fromMm === fromMm && word.toMm === section.toMm && word.verdict === verdict && word.note === '') {
    return asMeasured(section);
  }
  // It grew on after the person had looked: what they have not seen is not theirs to call good.
  const grewOn = section.toTimeMs > word.atTimeMs;
  const toMm = grewOn ? Math.max(word.toMm, section.toMm) : word.toMm;
  return {
    ...asMeasured(section),
    fromMm: word.fromMm,
    toMm,
    fromTimeMs: word.fromMm === section.fromMm ? section.fromTimeMs : null,
    toTimeMs: toMm === section.toMm ? section.toTimeMs : null,
    verdict: word.verdict,
    note: word.note,
    origin: 'adjusted',
  };
}

function asMarked(word: StatedSection): Section {
  return {
    id: `p${word.id}`,
    kind: 'marked',
    fromMm: word.fromMm,
    toMm: word.toMm,
    fromTimeMs: null,
    toTimeMs: null,
    peakMm: null,
    peakAtMm: null,
    volumeBeyondMm3: null,
    certainty: 'sure',
    verdict: word.verdict,
    note: word.note,
    origin: 'person',
    open: false,
  };
}
