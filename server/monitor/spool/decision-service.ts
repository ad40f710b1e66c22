import type { Person } from '../../alarm/alarm.ts';
import { strandAlarmOf } from '../../alarm/conditions.ts';
import { awaitsAcknowledgement } from '../../alarm/life-cycle.ts';
import { Problem } from '../../problem/problem.ts';
import { CUT_OUT_MAX_MM } from '../../strand/cut-out.ts';
import { effectiveSections } from '../../strand/effective-sections.ts';
import { type Stretch, spoolPositionMm } from '../../strand/position.ts';
import type { Section, StatedSection } from '../../strand/section.ts';
import type { AlarmService } from '../alarm-service.ts';
import type { Clock } from '../clock.ts';
import type { RecordWriter } from '../ports/record.ts';
import { unknownSection } from './section-service.ts';
import { requireUntouched } from './spool-bounds-service.ts';
import type { SpoolRepository } from './spool-repository.ts';
import { isWinding, strandOn, type WoundSpool } from './wound-spool.ts';

export interface DecisionServiceParts {
  readonly writer: Pick<RecordWriter, 'saveStatedSection' | 'log'>;
  readonly spools: Pick<SpoolRepository, 'wound'>;
  readonly alarms: Pick<AlarmService, 'standing' | 'acknowledge'>;
  readonly clock: Clock;
  /** Called after each change, so that positions, alarms and open pages follow. */
  changed(runId: number): void;
}

/** A section with the spool as it is after a decision. */
export interface DecidedSection {
  readonly section: Section;
  readonly woundSpool: WoundSpool;
}

/**
 * Lets users state what they did about a blob or thin spot on its way to the winder, or just after it: cut it out and joined
 * the ends, or left it on the spool. Each statement is appended to the record; undoing one is another statement. Who decides
 * about the last one that an alarm is about has answered the alarm.
 */
export class DecisionService {
  readonly #parts: DecisionServiceParts;

  constructor(parts: DecisionServiceParts) {
    this.#parts = parts;
  }

  /**
   * This much strand around a section was cut out and never wound, so all later strand moves inwards on the spool.
   * @returns the joint
   * @throws Problem `unknown-spool`, `unknown-section`, `bad-length`; `wrong-state` if another page was faster, or if the
   * spool was cut, measured by tape or has named coils
   */
  cutOut(spoolId: number, sectionId: string, lengthMm: number, person: Person): DecidedSection {
    const woundSpool = this.#parts.spools.wound(spoolId);
    const section = undecided(woundSpool, sectionId);
    requireUntouched(woundSpool);
    const stretch = stretchAround(woundSpool, section, lengthMm);
    const saved = this.#save(woundSpool, null, {
      measuredOrdinal: null,
      about: null,
      ...stretch,
      verdict: 'good',
      note: '',
      removed: false,
      decision: 'cutOut',
      who: person.name,
    });
    this.#log(
      woundSpool,
      person.name,
      `Cut out ${lengthMm.toFixed(0)} mm around the ${describe(section, woundSpool)}, and joined the ends.`,
    );
    return this.#decided(spoolId, `p${saved.id}`, section, person);
  }

  /** The section stays on the spool and in its cut list. @throws Problem as `cutOut` */
  leave(spoolId: number, sectionId: string, person: Person): DecidedSection {
    const woundSpool = this.#parts.spools.wound(spoolId);
    const section = undecided(woundSpool, sectionId);
    const { fromMm, toMm, verdict, note } = section;
    const { statement, measuredOrdinal } = statementAbout(woundSpool, sectionId);
    const stated = { measuredOrdinal, about: statement?.about ?? null, fromMm, toMm, verdict, note, removed: false };
    this.#save(woundSpool, statement, { ...stated, decision: 'left', who: person.name });
    this.#log(woundSpool, person.name, `Left the ${describe(section, woundSpool)} on the spool.`);
    return this.#decided(spoolId, sectionId, section, person);
  }

  /** Takes either decision back. @throws Problem `unknown-spool`; `wrong-state` if another page was faster, else as `cutOut` */
  undo(spoolId: number, sectionId: string, who: string): void {
    const woundSpool = this.#parts.spools.wound(spoolId);
    const { statement } = statementAbout(woundSpool, sectionId);
    if (statement?.decision === undefined || statement.removed) {
      throw new Problem(
        'wrong-state',
        'There is nothing to undo: someone undid it on another page.',
        'Look at the stretch as it is now.',
      );
    }
    const { id: _, decision, atTimeMs: _at, ...stated } = statement;
    if (decision === 'cutOut') {
      requireUntouched(woundSpool);
      this.#save(woundSpool, statement, { ...stated, removed: true, decision, who });
      const at = metresAt(woundSpool, stated.fromMm);
      this.#log(
        woundSpool,
        who,
        `Undid the cut at ${at}: ${(stated.toMm - stated.fromMm).toFixed(0)} mm is on the spool again.`,
      );
    } else {
      this.#save(woundSpool, statement, { ...stated, who });
      this.#log(woundSpool, who, `Undid that a stretch was left on spool ${woundSpool.spool.ordinal}.`);
    }
  }

  #save(
    { run }: WoundSpool,
    replaced: StatedSection | null,
    section: Omit<StatedSection, 'id' | 'atTimeMs'>,
  ): StatedSection {
    const { writer, clock, changed } = this.#parts;
    // In a replay readings may be dated ahead of the clock. What comes last counts.
    const atTimeMs = Math.max(clock(), replaced?.atTimeMs ?? 0);
    const saved = writer.saveStatedSection(run.id, { ...section, atTimeMs }, replaced?.id ?? null);
    changed(run.id);
    return saved;
  }

  #decided(spoolId: number, sectionId: string, about: Section, person: Person): DecidedSection {
    const woundSpool = this.#parts.spools.wound(spoolId);
    const sections = sectionsOf(woundSpool);
    const section = sections.find(({ id }) => id === sectionId);
    if (section === undefined) throw unknownSection(sectionId, woundSpool);
    this.#answer(about, sections, person);
    return { section, woundSpool };
  }

  /** Acknowledges the alarm about a section, unless it is also about another one that awaits a decision. */
  #answer(about: Section, sections: readonly Section[], person: Person): void {
    const { alarms } = this.#parts;
    const type = strandAlarmOf(about);
    const alarm = alarms.standing().find((one) => one.type === type && awaitsAcknowledgement(one.state));
    const isAwaited = (one: Section) =>
      one.decision === undefined && one.verdict !== 'good' && strandAlarmOf(one) === type;
    const isReported = ({ toTimeMs }: Section) => (toTimeMs ?? 0) >= (alarm?.raisedMs ?? 0);
    if (sections.some((one) => isAwaited(one) && isReported(one))) return;
    if (alarm !== undefined) alarms.acknowledge(alarm.id, person);
  }

  #log({ spool }: WoundSpool, who: string, what: string): void {
    this.#parts.writer.log({ timeMs: this.#parts.clock(), runId: spool.runId, who, what });
  }
}

/** As on the live page: by the limits in force now, with those on their way to the winder. */
function sectionsOf(woundSpool: WoundSpool): readonly Section[] {
  return effectiveSections(woundSpool.recorded, woundSpool.stated);
}

function undecided(woundSpool: WoundSpool, sectionId: string): Section {
  const section = sectionsOf(woundSpool).find(({ id, toMm }) => id === sectionId && toMm > woundSpool.startGaugeMm);
  if (section === undefined || section.fromMm >= woundSpool.reachGaugeMm) throw unknownSection(sectionId, woundSpool);
  const { decision } = section;
  if (decision === undefined) return section;
  throw new Problem(
    'wrong-state',
    decision === 'left'
      ? 'This was left on the spool, as stated on another page.'
      : 'This is a joint: what was here was cut out on another page.',
    'Undo that first.',
  );
}

function statementAbout(woundSpool: WoundSpool, sectionId: string) {
  const number = Number(sectionId.slice(1));
  const isRecorded = sectionId.startsWith('m');
  const statement =
    woundSpool.stated.find(({ id, measuredOrdinal }) => (isRecorded ? measuredOrdinal === number : id === number)) ??
    null;
  return { statement, measuredOrdinal: isRecorded ? number : null };
}

/** Around the middle of a section; never strand that has not passed the gauge, or that is on another spool. */
function stretchAround(woundSpool: WoundSpool, { fromMm, toMm }: Section, lengthMm: number): Stretch {
  const refuse = (what: string, remedy: string) => new Problem('bad-length', what, remedy, { pointer: '/lengthMm' });
  if (!(lengthMm >= 1 && lengthMm <= CUT_OUT_MAX_MM))
    throw refuse(`${lengthMm} mm cannot have been cut out.`, `Give a length from 1 to ${CUT_OUT_MAX_MM} mm.`);
  const passedMm = isWinding(woundSpool)
    ? woundSpool.endGaugeMm + woundSpool.settings.gaugeToWinderMm
    : woundSpool.endGaugeMm;
  const endMm = Math.min((fromMm + toMm + lengthMm) / 2, passedMm, woundSpool.reachGaugeMm);
  const startMm = endMm - lengthMm;
  if (startMm < woundSpool.startGaugeMm)
    throw refuse(
      `Spool ${woundSpool.spool.ordinal} starts less than ${lengthMm.toFixed(0)} mm before that place.`,
      'Give a shorter length, or correct where the spool starts.',
    );
  if (woundSpool.cutOuts.some((cut) => cut.fromMm < endMm && cut.toMm > startMm))
    throw refuse('Part of this strand was cut out already.', 'Give a shorter length, or undo that cut first.');
  return { fromMm: startMm, toMm: endMm };
}

function describe({ kind, fromMm }: Section, woundSpool: WoundSpool): string {
  const name = kind === 'neck' ? 'thin spot' : kind === 'blob' ? 'blob' : 'section';
  return `${name} at ${metresAt(woundSpool, fromMm)}`;
}

/** It may not be wound yet. */
function metresAt(woundSpool: WoundSpool, gaugeMm: number): string {
  return `${(spoolPositionMm(gaugeMm, strandOn(woundSpool)) / 1000).toFixed(2)} m of spool ${woundSpool.spool.ordinal}`;
}
