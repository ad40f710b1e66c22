import type { Alarm } from '../alarm/alarm.ts';
import { awaitsAcknowledgement, isSuppressed } from '../alarm/life-cycle.ts';
import type { Contact } from '../escalation/contact.ts';
import type { Message, Picture } from '../escalation/message.ts';
import type { Question, QuestionState } from '../escalation/people-service.ts';
import type { PeopleStore } from '../escalation/people-store.ts';
import type { Clock } from '../monitor/clock.ts';
import { Problem } from '../problem/problem.ts';
import { type AnswerToken, readToken } from './answer-token.ts';
import type { Drills } from './drills.ts';

export interface AnswerServiceParts {
  readonly store: PeopleStore;
  readonly clock: Clock;
  readonly drills: Drills;
  /** The key that tokens are signed with. */
  secret(): string;
  contacts(): readonly Contact[];
  /** Current or suppressed; null = there is none. */
  alarm(id: number): Alarm | null;
  /** When an alarm started its escalation, UTC ms; null = it has none. */
  escalatingSinceMs(alarmId: number): number | null;
  acknowledge(alarmId: number, who: string): Alarm;
  picture(of: Message['picture']): Promise<Picture | null>;
}

/** Answers that arrive by the link in a message. The token in the link takes the place of the access key. */
export class AnswerService {
  readonly #parts: AnswerServiceParts;

  constructor(parts: AnswerServiceParts) {
    this.#parts = parts;
  }

  /** @throws Problem not-found */
  question(token: string): Question {
    return this.#questionOf(this.#read(token));
  }

  /** @throws Problem not-found */
  async picture(token: string): Promise<Picture | null> {
    const { what, id } = this.#read(token);
    // Once the alarm is closed, the link shows nothing of the line any more.
    const shows = what === 'alarm' && this.#parts.alarm(id) !== null;
    return this.#parts.picture(shows ? this.#parts.store.pictureOf(id) : null);
  }

  /** @throws Problem not-found, wrong-state */
  answer(token: string, seenOccurrences: number | null): Question {
    const target = this.#read(token);
    if (target.what === 'drill') {
      for (const id of target.contactIds) this.#parts.drills.confirm(target.id, id);
      return this.#questionOf(target);
    }
    const acknowledged = this.#acknowledge(target, seenOccurrences);
    const question = this.#questionOf(target);
    // The acknowledgement of a past alarm closes it.
    return acknowledged === null || question.alarm !== null
      ? question
      : { ...question, alarm: acknowledged, state: 'answered' };
  }

  #read(token: string): AnswerToken {
    const target = readToken(token, this.#parts.secret());
    if (target !== null && target.untilMs > this.#parts.clock()) return target;
    if (target !== null) {
      throw new Problem(
        'not-found',
        'This link has expired: it worked for 24 hours after its message.',
        'Use the link in a newer message, or open the page.',
      );
    }
    throw new Problem(
      'not-found',
      'This link does not belong to any message of this service.',
      'Check that the whole link was copied, or open the page instead.',
    );
  }

  #questionOf(target: AnswerToken): Question {
    const { what, id } = target;
    const names = this.#namesOf(target);
    if (target.what === 'drill') {
      const drill = this.#parts.drills.find(id);
      const open = drill.people.some((one) => target.contactIds.includes(one.contactId) && one.confirmedMs === null);
      const state = !open ? 'answered' : this.#parts.clock() > drill.untilMs ? 'over' : 'open';
      return { what, names, alarm: null, drill, state, hasPicture: false };
    }
    const alarm = this.#parts.alarm(id);
    const hasPicture = alarm !== null && this.#parts.store.pictureOf(id) !== null;
    return { what, names, alarm, drill: null, state: this.#alarmState(alarm, target.sinceMs), hasPicture };
  }

  #alarmState(alarm: Alarm | null, sinceMs: number): QuestionState {
    if (alarm === null) return 'over';
    if (isSuppressed(alarm.state)) return 'suppressed';
    if (!awaitsAcknowledgement(alarm.state)) return 'answered';
    return this.#parts.escalatingSinceMs(alarm.id) === sinceMs ? 'open' : 'raisedAgain';
  }

  /** null = it is not to be acknowledged. */
  #acknowledge(target: AnswerToken, seenOccurrences: number | null): Alarm | null {
    const { alarm, state, names } = this.#questionOf(target);
    if (alarm === null || state !== 'open') return null;
    if (seenOccurrences !== null && alarm.occurrences > seenOccurrences) {
      throw new Problem('wrong-state', 'It has happened again just now.', 'See what happened, then answer.');
    }
    return this.#parts.acknowledge(alarm.id, names.join(', ') || 'someone with a link');
  }

  #namesOf({ contactIds }: AnswerToken): string[] {
    return this.#parts
      .contacts()
      .filter(({ id }) => contactIds.includes(id))
      .map(({ name }) => name);
  }
}
