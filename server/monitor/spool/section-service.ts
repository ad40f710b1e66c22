import { Problem } from '../../problem/problem.ts';
import type { Section, StatedSection, Verdict } from '../../strand/section.ts';
import { checkSection } from '../../strand/section-input.ts';
import type { Clock } from '../clock.ts';
import type { RecordReader, RecordWriter } from '../ports/record.ts';
import { dismissedSections, type Judgement } from './judgement.ts';
import { markedTarget, recordedTarget, type SectionTarget } from './section-target.ts';
import type { SpoolJudge } from './spool-judge.ts';
import { positionMm, strandOn, type WoundSpool, woundMm } from './wound-spool.ts';

/** A user's statement about a stretch of a spool; true lengths from its inner end. */
export interface SectionStatement {
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
  /** Called after each change, so that open pages load the sections of the run again. */
  changed(runId: number): void;
}

/** A changed section with the new judgement of its spool. */
export interface SectionInJudgement {
  readonly section: Section;
  readonly judgement: Judgement;
}

/**
 * Lets users add, adjust, remove and restore sections of the judgement for the chosen printer. Each statement is appended to
 * the record and never overwrites a measurement; the newest one about a stretch counts.
 */
export class SectionService {
  readonly #parts: SectionServiceParts;

  constructor(parts: SectionServiceParts) {
    this.#parts = parts;
  }

  /** @throws Problem `unknown-spool`, `bad-section` */
  async add(spoolId: number, stated: SectionStatement, who: string): Promise<SectionInJudgement> {
    const { woundSpool } = await this.#parts.judge.judge(spoolId);
    const newMark: SectionTarget = { ordinal: null, about: null, statement: null, original: null, passedMs: 0 };
    return this.#save(woundSpool, newMark, stated, who, 'Marked');
  }

  /** @throws Problem `unknown-spool`, `unknown-section`, `bad-section` */
  async adjust(spoolId: number, sectionId: string, stated: SectionStatement, who: string): Promise<SectionInJudgement> {
    const judgement = await this.#parts.judge.judge(spoolId);
    const target = this.#target(judgement, sectionId);
    requireNoJoint(judgement.woundSpool, target);
    return this.#save(judgement.woundSpool, target, stated, who, 'Adjusted');
  }

  /**
   * Dismisses a measured section or removes a marked one. One that is dismissed already gets the new reason.
   * @throws Problem `unknown-spool`, `unknown-section`
   */
  async remove(spoolId: number, sectionId: string, who: string, reason = ''): Promise<void> {
    const judgement = await this.#parts.judge.judge(spoolId);
    const { woundSpool } = judgement;
    const target = this.#target(judgement, sectionId);
    requireNoJoint(judgement.woundSpool, target);
    const current =
      judgement.sections.find(({ id }) => id === sectionId) ??
      (dismissedSections(judgement).some(({ id }) => id === sectionId) ? target.original : null);
    if (current === null) throw unknownSection(sectionId, woundSpool);
    const why = reason.trim();
    this.#append(woundSpool, target, { ...current, note: why, removed: true }, who);
    this.#log(
      woundSpool,
      who,
      `Dismissed the stretch ${describe(current, woundSpool)}${why === '' ? '' : `, because: ${why}`}.`,
    );
  }

  /** Restores a section as it was measured or first marked. @throws Problem `unknown-spool`, `unknown-section` */
  async restore(spoolId: number, sectionId: string, who: string): Promise<SectionInJudgement> {
    const judgement = await this.#parts.judge.judge(spoolId);
    const target = this.#target(judgement, sectionId);
    requireNoJoint(judgement.woundSpool, target);
    if (target.original === null) throw unknownSection(sectionId, judgement.woundSpool);
    const saved = this.#append(judgement.woundSpool, target, { ...target.original, removed: false }, who);
    const restored = await this.#judgeAgain(judgement.woundSpool, saved);
    this.#log(judgement.woundSpool, who, `Restored the stretch ${describe(restored.section, judgement.woundSpool)}.`);
    return restored;
  }

  async #save(
    woundSpool: WoundSpool,
    target: SectionTarget,
    input: SectionStatement,
    who: string,
    verb: string,
  ): Promise<SectionInJudgement> {
    const stated = checkSection(input, { ...strandOn(woundSpool), lengthMm: woundMm(woundSpool) });
    const saved = this.#append(woundSpool, target, { ...stated, removed: false }, who);
    const result = await this.#judgeAgain(woundSpool, saved);
    this.#log(
      woundSpool,
      who,
      `${verb} the stretch ${describe(result.section, woundSpool)} as ${result.section.verdict}.`,
    );
    return result;
  }

  #append(
    woundSpool: WoundSpool,
    { ordinal, about, statement, passedMs }: SectionTarget,
    statedSection: Pick<StatedSection, 'fromMm' | 'toMm' | 'verdict' | 'note' | 'removed'>,
    who: string,
  ): StatedSection {
    const { fromMm, toMm, verdict, note, removed } = statedSection;
    const saved = this.#parts.writer.saveStatedSection(
      woundSpool.run.id,
      {
        measuredOrdinal: ordinal,
        about,
        fromMm,
        toMm,
        verdict,
        note,
        removed,
        who,
        // In a replay readings may be dated ahead of the clock, but a statement must be later than its section.
        atTimeMs: Math.max(this.#parts.clock(), passedMs),
      },
      statement?.id ?? null,
    );
    this.#parts.changed(woundSpool.run.id);
    return saved;
  }

  async #judgeAgain(woundSpool: WoundSpool, saved: StatedSection): Promise<SectionInJudgement> {
    const judgement = await this.#parts.judge.judge(woundSpool.spool.id);
    const id = [...judgement.targets].find(([, { statement }]) => statement?.id === saved.id)?.[0] ?? `p${saved.id}`;
    const section = judgement.sections.find((one) => one.id === id);
    if (section === undefined) throw unknownSection(id, woundSpool);
    return { section, judgement };
  }

  /** An id from an older page may belong to a mark that has changed since, or to a recorded section. */
  #target({ woundSpool, targets }: Judgement, sectionId: string): SectionTarget {
    const shown = targets.get(sectionId);
    if (shown !== undefined) return shown;
    const [, prefix, digits] = /^([mp])(\d{1,9})$/.exec(sectionId) ?? [];
    const number = Number(digits);
    if (prefix === 'm') {
      const recorded = woundSpool.recorded.find(({ ordinal }) => ordinal === number);
      const statement = woundSpool.stated.find(({ measuredOrdinal }) => measuredOrdinal === number) ?? null;
      if (recorded !== undefined) return recordedTarget(recorded, statement);
    }
    const marked = prefix === 'p' ? this.#parts.reader.statedSection(number) : null;
    if (marked === null || marked.runId !== woundSpool.run.id || marked.section.measuredOrdinal !== null)
      throw unknownSection(sectionId, woundSpool);
    return markedTarget(marked.section, { id: marked.replacedBy ?? number });
  }

  #log({ spool }: WoundSpool, who: string, what: string): void {
    this.#parts.writer.log({ timeMs: this.#parts.clock(), runId: spool.runId, who, what });
  }
}

/** Otherwise strand would come back to the spool, or leave it, unnoticed. */
function requireNoJoint({ stated }: WoundSpool, { statement }: SectionTarget): void {
  if (!stated.some(({ id, decision }) => id === statement?.id && decision === 'cutOut')) return;
  throw new Problem(
    'wrong-state',
    'This is a joint: strand was cut out here before it was wound.',
    'Undo the cut instead, if the strand is on the spool after all.',
  );
}

function describe({ fromMm, toMm }: { fromMm: number; toMm: number }, woundSpool: WoundSpool): string {
  const metres = (mm: number) => (positionMm(woundSpool, mm) / 1000).toFixed(2);
  return `${metres(fromMm)}–${metres(toMm)} m of spool ${woundSpool.spool.ordinal}`;
}

export function unknownSection(sectionId: string, { spool }: WoundSpool): Problem {
  return new Problem(
    'unknown-section',
    `Spool ${spool.id} has no section “${sectionId}”.`,
    'It may have been changed on another page. Load the spool again, then retry.',
  );
}
