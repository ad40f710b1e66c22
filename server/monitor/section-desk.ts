import { Problem } from '../problem/problem.ts';
import { effectiveSections } from '../strand/effective-sections.ts';
import type { MeasuredSection, Section, StatedSection, Verdict } from '../strand/section.ts';
import { checkSection } from '../strand/section-input.ts';
import { knownSpool } from './known.ts';
import type { RecordKeeper, RecordReader, Spool } from './ports.ts';
import type { Clock } from './steady-clock.ts';

/** What a person says about a stretch of a spool; positions from the spool's inner end, true mm. */
export interface SectionWords {
  readonly fromSpoolMm: number;
  readonly toSpoolMm: number;
  readonly verdict: Verdict;
  readonly note: string;
}

export interface SectionDeskParts {
  readonly keeper: RecordKeeper;
  readonly reader: RecordReader;
  readonly clock: Clock;
  /** Length on a spool: of a finished one, or of the one being wound, now. */
  woundMm(spool: Spool): number;
  /** True length = this × counted. */
  lengthFactor(spool: Spool): number;
  /** Measured sections of a run, those that are still growing included. */
  measured(runId: number): readonly MeasuredSection[];
  /** Told after each change, so that whoever shows the sections of the run fetches them anew. */
  changed(runId: number): void;
}

/**
 * Where a person adds, adjusts, removes and restores sections. A person's word is appended to the record and never
 * overwrites what was measured; the newest word about a stretch counts.
 */
export class SectionDesk {
  readonly #parts: SectionDeskParts;

  constructor(parts: SectionDeskParts) {
    this.#parts = parts;
  }

  sections(runId: number): readonly Section[] {
    return effectiveSections(this.#parts.measured(runId), this.#parts.reader.statedSections(runId));
  }

  add(spoolId: number, words: SectionWords, who: string): Section {
    const spool = knownSpool(this.#parts.reader, spoolId);
    return this.#say(spool, words, null, null, who, 'Marked');
  }

  /** @throws Problem `unknown-spool`, `unknown-section`, `bad-section` */
  adjust(spoolId: number, sectionId: string, words: SectionWords, who: string): Section {
    const spool = knownSpool(this.#parts.reader, spoolId);
    const target = this.#target(spool, sectionId);
    return this.#say(spool, words, target.ordinal, target.word?.id ?? null, who, 'Adjusted');
  }

  /** Dismiss a measured section, or take away a marked one. */
  remove(spoolId: number, sectionId: string, who: string): void {
    const spool = knownSpool(this.#parts.reader, spoolId);
    const target = this.#target(spool, sectionId);
    const current = this.sections(spool.runId).find((section) => section.id === sectionId);
    if (current === undefined) throw unknownSection(sectionId, spool);
    this.#save(
      spool,
      {
        ...target,
        removed: true,
        verdict: current.verdict,
        note: current.note,
      },
      current,
    );
    this.#log(spool, who, `Removed the section ${this.#describe(current, spool)}.`);
  }

  /** Undo: what was measured counts again; a marked section comes back as it was marked. */
  restore(spoolId: number, sectionId: string, who: string): Section {
    const spool = knownSpool(this.#parts.reader, spoolId);
    const target = this.#target(spool, sectionId);
    const original =
      target.ordinal === null
        ? target.asSaid
        : this.#parts.measured(spool.runId).find((section) => section.ordinal === target.ordinal);
    if (original === undefined) throw unknownSection(sectionId, spool);
    const note = 'note' in original ? original.note : '';
    const saved = this.#save(spool, { ...target, removed: false, verdict: original.verdict, note }, original);
    const section = this.#sectionOf(spool, saved);
    this.#log(spool, who, `Restored the section ${this.#describe(section, spool)}.`);
    return section;
  }

  #say(
    spool: Spool,
    words: SectionWords,
    ordinal: number | null,
    replaces: number | null,
    who: string,
    verb: string,
  ): Section {
    const lengthFactor = this.#parts.lengthFactor(spool);
    const { fromMm, toMm, verdict, note } = checkSection(words, {
      startGaugeMm: spool.startGaugeMm,
      lengthMm: this.#parts.woundMm(spool) * lengthFactor,
      lengthFactor,
    });
    const word = replaces === null ? null : { id: replaces };
    const saved = this.#save(spool, { ordinal, word, removed: false, verdict, note }, { fromMm, toMm });
    const section = this.#sectionOf(spool, saved);
    this.#log(spool, who, `${verb} the section ${this.#describe(section, spool)} as ${section.verdict}.`);
    return section;
  }

  #save(
    spool: Spool,
    what: {
      readonly ordinal: number | null;
      readonly word: { readonly id: number } | null;
      readonly removed: boolean;
      readonly verdict: Verdict;
      readonly note: string;
    },
    range: { readonly fromMm: number; readonly toMm: number },
  ): StatedSection {
    const saved = this.#parts.keeper.saveStatedSection(
      spool.runId,
      {
        measuredOrdinal: what.ordinal,
        fromMm: range.fromMm,
        toMm: range.toMm,
        verdict: what.verdict,
        note: what.note,
        removed: what.removed,
        atTimeMs: this.#spokenMs(spool, what.ordinal),
      },
      what.word?.id ?? null,
    );
    this.#parts.changed(spool.runId);
    return saved;
  }

  /** A replay dates readings ahead of the clock: a word about a section that has ended comes after its end. */
  #spokenMs(spool: Spool, ordinal: number | null): number {
    const nowMs = this.#parts.clock();
    const about = this.#parts.measured(spool.runId).find((section) => section.ordinal === ordinal);
    return about === undefined || about.open ? nowMs : Math.max(nowMs, about.toTimeMs);
  }

  #log(spool: Spool, who: string, what: string): void {
    this.#parts.keeper.log({
      timeMs: this.#parts.clock(),
      runId: spool.runId,
      who,
      what,
    });
  }

  #describe(section: Section, spool: Spool): string {
    const factor = this.#parts.lengthFactor(spool);
    const metres = (mm: number) => (((mm - spool.startGaugeMm) * factor) / 1000).toFixed(2);
    return `${metres(section.fromMm)}–${metres(section.toMm)} m of spool ${spool.ordinal}`;
  }

  #sectionOf(spool: Spool, saved: StatedSection): Section {
    const id = saved.measuredOrdinal === null ? `p${saved.id}` : `m${saved.measuredOrdinal}`;
    const section = this.sections(spool.runId).find((candidate) => candidate.id === id);
    if (section === undefined) throw unknownSection(id, spool);
    return section;
  }

  /** What a section id speaks of: the measured ordinal, or the newest word about a marked stretch. */
  #target(spool: Spool, sectionId: string) {
    const parsed = /^([mp])(\d{1,9})$/.exec(sectionId);
    if (parsed === null) throw unknownSection(sectionId, spool);
    const number = Number(parsed[2]);
    if (parsed[1] === 'm') {
      const known = this.#parts.measured(spool.runId).some((section) => section.ordinal === number);
      if (!known) throw unknownSection(sectionId, spool);
      const word = this.#parts.reader.statedSections(spool.runId).find((said) => said.measuredOrdinal === number);
      return { ordinal: number, word: word ?? null, asSaid: undefined };
    }
    const said = this.#parts.reader.statedSection(number);
    if (said === null || said.runId !== spool.runId || said.section.measuredOrdinal !== null) {
      throw unknownSection(sectionId, spool);
    }
    return {
      ordinal: null,
      word: { id: said.replacedBy ?? number },
      asSaid: said.section,
    };
  }
}

function unknownSection(sectionId: string, spool: Spool): Problem {
  return new Problem(
    'unknown-section',
    `Spool ${spool.id} has no section “${sectionId}”.`,
    'It may have been changed on another screen: reload the spool and try again.',
  );
}
