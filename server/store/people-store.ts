import type { Database } from 'better-sqlite3';
import type { PeopleStore } from '../escalation/people-store.ts';
import { daysSeen } from './record/days-seen.ts';
import { outboxTable } from './record/outbox.ts';
import { peopleTables } from './record/people.ts';
import type { UnreadableRows } from './record/unreadable-rows.ts';
import { guardedAt } from './record-failing.ts';

/**
 * People, channels and the outbox.
 * @param path of the database, for error messages
 * @throws RecordFailing if the disk is full or fails; Problem unknown-channel, unknown-contact
 */
export function peopleStore(db: Database, path: string, unreadable: UnreadableRows): PeopleStore {
  const people = peopleTables(db, unreadable);
  const outbox = outboxTable(db, unreadable);
  const guarded = guardedAt(path);
  return {
    ...people,
    addChannel: guarded(people.addChannel),
    changeChannel: guarded(people.changeChannel),
    removeChannel: guarded(people.removeChannel),
    saveChannelState: guarded(people.saveChannelState),
    addContact: guarded(people.addContact),
    changeContact: guarded(people.changeContact),
    removeContact: guarded(people.removeContact),
    saveRules: guarded(people.saveRules),
    keepSecret: guarded(people.keepSecret),
    addDrill: guarded(people.addDrill),
    keepDrill: guarded(people.keepDrill),
    ...outbox,
    saveEscalations: guarded(outbox.saveEscalations),
    keepEntries: guarded(outbox.keepEntries),
    forgetDead: guarded(outbox.forgetDead),
    forgetBefore: guarded(outbox.forgetBefore),
    olderThan: daysSeen(db).olderThan,
  };
}
