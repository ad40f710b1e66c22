import { checkContact } from '../escalation/check-contact.ts';
import type { Contact } from '../escalation/contact.ts';
import type { PeopleStore } from '../escalation/people-store.ts';
import type { UnreadableEntry } from '../escalation/unreadable-entry.ts';
import type { Clock } from '../monitor/clock.ts';

export interface ContactServiceParts {
  readonly store: PeopleStore;
  readonly clock: Clock;
  recordAction(what: string, who: string): void;
}

/** The people who are notified: added, changed and removed, each checked first. */
export class ContactService {
  readonly #parts: ContactServiceParts;
  #contacts: readonly Contact[] = [];
  #unreadable: readonly UnreadableEntry[] = [];

  constructor(parts: ContactServiceParts) {
    this.#parts = parts;
  }

  /** Reads the list from the record again: at the start, and after channels or rules were changed. */
  reload(): void {
    const { store } = this.#parts;
    const channels = new Set(store.channels().map(({ id }) => id));
    // Over a channel that cannot be read no one is notified.
    this.#contacts = store
      .contacts()
      .map((contact) => ({ ...contact, channelIds: contact.channelIds.filter((id) => channels.has(id)) }));
    this.#unreadable = store.unreadableEntries();
  }

  /** People, channels and rules that cannot be read. */
  get unreadable(): readonly UnreadableEntry[] {
    return this.#unreadable;
  }

  all(): readonly Contact[] {
    return this.#contacts;
  }

  add(contact: Omit<Contact, 'id'>, who: string): Contact {
    const { store, clock, recordAction } = this.#parts;
    const added = store.addContact(this.#checked(contact, null), clock());
    this.reload();
    recordAction(`Added ${added.name} to the people who are notified of alarms.`, who);
    return added;
  }

  change(contact: Contact, who: string): Contact {
    const { store, clock, recordAction } = this.#parts;
    const changed = { ...this.#checked(contact, contact.id), id: contact.id };
    store.changeContact(changed, clock());
    this.reload();
    recordAction(`Changed how ${changed.name} is notified of alarms.`, who);
    return changed;
  }

  remove(id: number, who: string): void {
    const { store, clock, recordAction } = this.#parts;
    const isThis = (one: { readonly id: number; readonly kind?: UnreadableEntry['kind'] }) =>
      one.id === id && (one.kind ?? 'person') === 'person';
    const name = [...this.#contacts, ...this.#unreadable].find(isThis)?.name;
    store.removeContact(id, clock());
    this.reload();
    recordAction(
      `Removed ${name ?? 'a person who could not be read'} from the people who are notified of alarms.`,
      who,
    );
  }

  #checked(contact: Omit<Contact, 'id'>, id: number | null): Omit<Contact, 'id'> {
    const others = this.#contacts.filter((other) => other.id !== id);
    return checkContact(contact, others, new Set(this.#parts.store.channels().map((channel) => channel.id)));
  }
}
