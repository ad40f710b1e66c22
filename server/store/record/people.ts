import type { Database } from 'better-sqlite3';
import { type Channel, type ChannelSettings, type ChannelState, withSignInApart } from '../../escalation/channel.ts';
import { CONTACT_DEFAULTS, type Contact } from '../../escalation/contact.ts';
import type { Drill } from '../../escalation/drill.ts';
import type { UnreadableEntry } from '../../escalation/unreadable-entry.ts';
import { Problem } from '../../problem/problem.ts';
import { storedChannelSettings, storedChannelState, storedContact, storedDrill, storedRules } from './stored-people.ts';
import type { UnreadableRows } from './unreadable-rows.ts';

const placeOfChannel = ({ id }: { id: number }) => ({ table: 'channel', row: id, runId: null });

/** People and the channels to them. */
export function peopleTables(db: Database, unreadable: UnreadableRows) {
  const channels = db.prepare<[], { id: number; name: string; settings: string }>(
    'SELECT id, name, settings FROM channel ORDER BY id',
  );
  const addChannel = db.prepare('INSERT INTO channel (name, settings, changed_ms) VALUES (?, ?, ?)');
  const changeChannel = db.prepare('UPDATE channel SET name = ?, settings = ?, changed_ms = ? WHERE id = ?');
  const removeChannel = db.prepare('DELETE FROM channel WHERE id = ?');
  const states = db.prepare<[], { id: number; state: string }>('SELECT id, state FROM channel WHERE state IS NOT NULL');
  const saveState = db.prepare('UPDATE channel SET state = ? WHERE id = ?');
  const contacts = db.prepare<[], { id: number; payload: string }>('SELECT id, payload FROM contact ORDER BY id');
  const addContact = db.prepare('INSERT INTO contact (payload, changed_ms) VALUES (?, ?)');
  const changeContact = db.prepare('UPDATE contact SET payload = ?, changed_ms = ? WHERE id = ?');
  const removeContact = db.prepare('DELETE FROM contact WHERE id = ?');
  const rules = db.prepare<[], { version: number; payload: string }>(
    'SELECT version, payload FROM escalation_rules ORDER BY version DESC LIMIT 1',
  );
  const saveRules = db.prepare('INSERT INTO escalation_rules (saved_ms, payload) VALUES (?, ?)');
  const secret = db.prepare<[string], string>('SELECT value FROM service_secret WHERE name = ?').pluck();
  const keepSecret = db.prepare('INSERT OR REPLACE INTO service_secret (name, value) VALUES (?, ?)');
  const drills = db.prepare<[number], { id: number; payload: string }>(
    'SELECT id, payload FROM drill ORDER BY id DESC LIMIT ?',
  );
  const addDrill = db.prepare('INSERT INTO drill (payload) VALUES (?)');
  const keepDrill = db.prepare('UPDATE drill SET payload = ? WHERE id = ?');

  /** The rows of a table that can be read. */
  const readable = <T>(table: string, rows: { id: number; payload: string }[], read: (json: string) => object): T[] =>
    unreadable.all(
      rows,
      ({ id }) => ({ table, row: id, runId: null }),
      ({ id, payload }) => ({ ...read(payload), id }) as T,
    );
  const withoutId = <T extends { id: number }>({ id: _, ...rest }: T): string => JSON.stringify(rest);
  const listContacts = (): Contact[] =>
    readable('contact', contacts.all(), (json) => ({ ...CONTACT_DEFAULTS, ...storedContact(json) }));
  const listChannels = (): Channel[] =>
    unreadable.all(channels.all(), placeOfChannel, (row) => ({
      ...row,
      settings: withSignInApart(storedChannelSettings(row.settings) as ChannelSettings),
    }));
  const loadRules = (): object | null => {
    const row = rules.get();
    if (row === undefined) return null;
    const place = { table: 'escalation_rules', row: row.version, runId: null };
    return unreadable.read(place, () => storedRules(row.payload));
  };
  return {
    channels: listChannels,
    addChannel(channel: Omit<Channel, 'id'>, atMs: number): Channel {
      const done = addChannel.run(channel.name, JSON.stringify(channel.settings), Math.round(atMs));
      return { ...channel, id: Number(done.lastInsertRowid) };
    },
    changeChannel(channel: Channel, atMs: number): void {
      const done = changeChannel.run(channel.name, JSON.stringify(channel.settings), Math.round(atMs), channel.id);
      if (done.changes === 0) throw unknown('channel', channel.id);
    },
    /** No one is notified over it any more. */
    removeChannel: db.transaction((id: number, atMs: number): void => {
      if (removeChannel.run(id).changes === 0) throw unknown('channel', id);
      for (const contact of listContacts()) {
        if (!contact.channelIds.includes(id)) continue;
        const remaining = { ...contact, channelIds: contact.channelIds.filter((one) => one !== id) };
        changeContact.run(withoutId(remaining), Math.round(atMs), contact.id);
      }
    }),
    channelStates: (): Map<number, ChannelState> =>
      new Map(
        unreadable.all(states.all(), placeOfChannel, ({ id, state }) => [id, storedChannelState(state)] as const),
      ),
    saveChannelState: (id: number, state: ChannelState): void => void saveState.run(JSON.stringify(state), id),
    contacts: listContacts,
    addContact(contact: Omit<Contact, 'id'>, atMs: number): Contact {
      const done = addContact.run(JSON.stringify(contact), Math.round(atMs));
      return { ...contact, id: Number(done.lastInsertRowid) };
    },
    changeContact(contact: Contact, atMs: number): void {
      const done = changeContact.run(withoutId(contact), Math.round(atMs), contact.id);
      if (done.changes === 0) throw unknown('contact', contact.id);
    },
    removeContact(id: number, _atMs: number): void {
      if (removeContact.run(id).changes === 0) throw unknown('contact', id);
    },
    unreadableEntries(): UnreadableEntry[] {
      const readable = { channel: idsOf(listChannels()), person: idsOf(listContacts()) };
      const entries: UnreadableEntry[] = [
        ...channels.all().map(({ id, name }) => ({ kind: 'channel' as const, id, name })),
        ...contacts.all().map(({ id, payload }) => ({ kind: 'person' as const, id, name: nameIn(payload) })),
      ].filter(({ kind, id }) => !readable[kind].has(id));
      const rulesNow = rules.get();
      if (rulesNow !== undefined && loadRules() === null)
        entries.push({ kind: 'rules', id: rulesNow.version, name: null });
      return entries;
    },
    loadRules,
    saveRules: (changed: object, atMs: number): void => void saveRules.run(Math.round(atMs), JSON.stringify(changed)),
    secret<T>(name: string, read: (text: string) => T): T | null {
      const text = secret.get(name);
      if (text === undefined) return null;
      return unreadable.read({ table: 'service_secret', row: name, runId: null }, () => read(text));
    },
    keepSecret: (name: string, value: string): void => void keepSecret.run(name, value),
    drills: (limit: number): Drill[] => readable('drill', drills.all(limit), storedDrill),
    addDrill(drill: Omit<Drill, 'id'>): Drill {
      return { ...drill, id: Number(addDrill.run(JSON.stringify(drill)).lastInsertRowid) };
    },
    keepDrill: (drill: Drill): void => void keepDrill.run(withoutId(drill), drill.id),
  };
}

const idsOf = (entries: readonly { readonly id: number }[]) => new Set(entries.map(({ id }) => id));

/** The name in JSON that may be damaged behind it. */
function nameIn(payload: string): string | null {
  return /"name":"([^"\\]{1,60})"/.exec(payload)?.[1] ?? null;
}

function unknown(what: 'channel' | 'contact', id: number): Problem {
  const name = what === 'contact' ? 'person' : what;
  return new Problem(`unknown-${what}`, `There is no ${name} ${id}.`, 'Reload the page and choose one there.');
}
