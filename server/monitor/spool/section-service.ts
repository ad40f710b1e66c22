import { Problem } from '../../problem/problem.ts';
import type { Section, StatedSection, Verdict } from '../../strand/section.ts';
import { checkSection } from '../../strand/section-input.ts';
import type { RecordReader, RecordWriter } from '../ports/record.ts';
import type { Clock } from '../steady-clock.ts';
import type { Judgement } from './judgement.ts';
import { markedTarget, recordedTarget, type SectionTarget } from './section-target.ts';
import type { SpoolJudge } from './spool-judge.ts';
import { positionMm, type WoundSpool } from './wound-spool.ts';

/** What a user states about a stretch of a spool; positions from the spool's inner end, true mm. */
export interface SectionText {
  readonly fromSpoolMm: number;
  readonly toSpoolMm: number;
  readonly verdict: Verdict;
  readonly note: string;
}

export interface SectionServiceParts {
  readonly writer: Pick<RecordWriter, 'saveStatedSection' | 'log'>;
  readonly reader: Pick<RecordReader, 'statedSection'>;
  readonly judge: Pick<SpoolJudge, 'judge'>;
  readonly clock: Clock;
  /** Called after each change, so that whoever shows the sections of the run fetches them again. */
  changed(runId: number): void;
}

/** A changed section, and the judgement that follows from it. */
export interface SectionInJudgement {
  readonly section: Section;
  readonly judged: Judgement;
}

/**
 * Where a user adds, adjusts, removes and restores sections, as the chosen printer's judgement shows them. A statement is
 * appended to the record and never overwrites what was measured; the newest one about a stretch counts.
 */
export class SectionService {
  readonly #parts: SectionServiceParts;

  constructor(parts: SectionServiceParts) {
    this.#parts = parts;
  }

  /** @throws Problem `unknown-spool`, `bad-section` */
  async add(spoolId: number, stated: SectionText, who: string): Promise<SectionInJudgement> {
    const { on } = await this.#parts.judge.judge(spoolId);
    const marked: SectionTarget = { ordinal: null, about: null, statement: null, original: null, passedMs: 0 };
    return this.#state(on, marked, stated, who, 'Marked');
  }

  /** @throws Problem `unknown-spool`, `unknown-section`, `bad-section` */
  async adjust(spoolId: number, sectionId: string, stated: SectionText, who: string): Promise<SectionInJudgement> {
    const judged = await this.#parts.judge.judge(spoolId);
    return this.#state(judged.on, this.#target(judged, sectionId), stated, who, 'Adjusted');
  }

  /** Dismiss a measured section, or take away a marked one. @throws Problem `unknown-spool`, `unknown-section` */
  async remove(spoolId: number, sectionId: string, who: string): Promise<void> {
    const judged = await this.#parts.judge.judge(spoolId);
    const { on } = judged;
    const target = this.#target(judged, sectionId);
    const current = judged.sections.find(({ id }) => id === sectionId);
    if (current === undefined) throw unknownSection(sectionId, on);
    this.#save(on, target, { ...current, removed: true });
    this.#log(on, who, `Removed the section ${describe(current, on)}.`);
  }

  /** Undo: what was measured counts again; a marked section comes back as it was marked. */
  async restore(spoolId: number, sectionId: string, who: string): Promise<SectionInJudgement> {
    const judged = await this.#parts.judge.judge(spoolId);
    const target = this.#target(judged, sectionId);
    if (target.original === null) throw unknownSection(sectionId, judged.on);
    const saved = this.#save(judged.on, target, { ...target.original, removed: false });
    const restored = await this.#after(judged.on, saved);
    this.#log(judged.on, who, `Restored the section ${describe(restored.section, judged.on)}.`);
    return restored;
  }

  async #state(
    on: WoundSpool,
    target: SectionTarget,
    input: SectionText,
    who: string,
    verb: string,
  ): Promise<SectionInJudgement> {
    const { factor } = on.scale;
    const stated = checkSection(input, {
      startGaugeMm: on.startGaugeMm,
      lengthMm: (on.endGaugeMm - on.startGaugeMm) * factor,
      lengthFactor: factor,
    });
    const saved = this.#save(on, target, { ...stated, removed: false });
    const after = await this.#after(on, saved);
    this.#log(on, who, `${verb} the section ${describe(after.section, on)} as ${after.section.verdict}.`);
    return after;
  }

  #save(
    on: WoundSpool,
    { ordinal, about, statement, passedMs }: SectionTarget,
    said: Pick<StatedSection, 'fromMm' | 'toMm' | 'verdict' | 'note' | 'removed'>,
  ): StatedSection {
    const { fromMm, toMm, verdict, note, removed } = said;
    const saved = this.#parts.writer.saveStatedSection(
      on.run.id,
      {
        measuredOrdinal: ordinal,
        about,
        fromMm,
        toMm,
        verdict,
        note,
        removed,
        // A replay dates readings ahead of the clock: a statement about a section that has ended comes after its end.
        atTimeMs: Math.max(this.#parts.clock(), passedMs),
      },
      statement?.id ?? null,
    );
    this.#parts.changed(on.run.id);
    return saved;
  }

  async #after(on: WoundSpool, saved: StatedSection): Promise<SectionInJudgement> {
    const judged = await this.#parts.judge.judge(on.spool.id);
    const id = [...judged.targets].find(([, { statement }]) => statement?.id === saved.id)?.[0] ?? `p${saved.id}`;
    const section = judged.sections.find((one) => one.id === id);
    if (section === undefined) throw unknownSection(id, on);
    return { section, judged };
  }

  /** What is shown goes first; an id of another screen may be of a mark that changed since, or of a recorded section. */
  #target({ on, targets }: Judgement, sectionId: string): SectionTarget {
    const shown = targets.get(sectionId);
    if (shown !== undefined) return shown;
    const [, message, digits] = /^([mp])(\d{1,9})$/.exec(sectionId) ?? [];
    const number = Number(digits);
    if (message === 'm') {
      const recorded = on.recorded.find(({ ordinal }) => ordinal === number);
      const statement = on.stated.find(({ measuredOrdinal }) => measuredOrdinal === number) ?? null;
      if (recorded !== undefined) return recordedTarget(recorded, statement);
    }
    const said = message === 'p' ? this.#parts.reader.statedSection(number) : null;
    if (said === null || said.runId !== on.run.id || said.section.measuredOrdinal !== null)
      throw unknownSection(sectionId, on);
    return markedTarget(said.section, { id: said.replacedBy ?? number });
  }

  #log({ spool }: WoundSpool, who: string, what: string): void {
    this.#parts.writer.log({ timeMs: this.#parts.clock(), runId: spool.runId, who, what });
  }
}

function describe({ fromMm, toMm }: { fromMm: number; toMm: number }, on: WoundSpool): string {
  const metres = (mm: number) => (positionMm(on, mm) / 1000).toFixed(2);
  return `${metres(fromMm)}–${metres(toMm)} m of spool ${on.spool.ordinal}`;
}

function unknownSection(sectionId: string, { spool }: WoundSpool): Problem {
  return new Problem(
    'unknown-section',
    `Spool ${spool.id} has no section “${sectionId}”.`,
    'It may have been changed on another screen: reload the spool and try again.',
  );
}
