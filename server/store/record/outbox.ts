import type { Database } from 'better-sqlite3';
import type { AlarmChange } from '../../alarm/alarm.ts';
import type { Escalation } from '../../escalation/escalation.ts';
import { type Message, REPORT_KEY } from '../../escalation/message.ts';
import type { OutboxEntry } from '../../escalation/outbox-entry.ts';
import { JOURNAL_COLUMNS, type JournalRow, stepsOf } from './journal-row.ts';
import { storedEntry, storedEscalations } from './stored-people.ts';
import type { UnreadableRows } from './unreadable-rows.ts';

interface EntryRow {
  readonly seq: number;
  readonly payload: string;
}

/** Messages to be delivered, and how far the alarm journal has been worked through. */
export function outboxTable(db: Database, unreadable: UnreadableRows) {
  const insert = db.prepare(
    `INSERT INTO outbox (seq, channel_id, key, drill_id, state, payload, ended_ms) VALUES (?, ?, ?, ?, ?, ?, ?)
     ON CONFLICT (channel_id, key) DO NOTHING`,
  );
  const update = db.prepare('UPDATE outbox SET state = ?, payload = ?, ended_ms = ? WHERE seq = ?');
  const waiting = db.prepare<[], EntryRow>("SELECT seq, payload FROM outbox WHERE state = 'waiting' ORDER BY seq");
  const lastSeq = db.prepare<[], number>('SELECT coalesce(max(seq), 0) FROM outbox').pluck();
  const ended = db.prepare<[number], EntryRow>(
    `SELECT seq, payload FROM outbox WHERE ended_ms IS NOT NULL AND key NOT GLOB '${REPORT_KEY}*' ORDER BY ended_ms DESC, seq DESC LIMIT ?`,
  );
  const dead = db.prepare<[number], EntryRow>(
    "SELECT seq, payload FROM outbox WHERE ended_ms IS NOT NULL AND state IN ('expired', 'refused') ORDER BY ended_ms DESC, seq DESC LIMIT ?",
  );
  // The place is in the JSON of the payload; the key starts with the id of its alarm.
  const hasPicture = db
    .prepare<[string], string>(
      "SELECT payload ->> '$.message.picture' FROM outbox WHERE key GLOB ? AND json_valid(payload) AND payload ->> '$.message.picture' IS NOT NULL ORDER BY seq DESC LIMIT 1",
    )
    .pluck();
  const forgetDead = db.prepare("DELETE FROM outbox WHERE state IN ('expired', 'refused')");
  const forgetBefore = db.prepare('DELETE FROM outbox WHERE ended_ms < ?');
  const escalations = db.prepare<[], string>('SELECT escalations FROM escalation').pluck();
  const updateEscalations = db.prepare(
    'UPDATE escalation SET escalations = ?, journal_id = (SELECT coalesce(max(id), 0) FROM alarm_journal)',
  );
  // Alarms of imported runs (ids below 0) notify no one.
  const unprocessed = db.prepare<[], JournalRow>(
    `SELECT ${JOURNAL_COLUMNS} FROM alarm_journal WHERE id > (SELECT journal_id FROM escalation) AND alarm_id > 0 ORDER BY id`,
  );

  const readable = (rows: EntryRow[]): OutboxEntry[] =>
    unreadable.all(
      rows,
      ({ seq }) => ({ table: 'outbox', row: seq, runId: null }),
      ({ payload }) => {
        const entry = storedEntry(payload) as OutboxEntry;
        // Messages of older versions have none of them.
        const {
          urgency = null,
          why = '',
          conversation = entry.message.key,
        } = entry.message as Partial<Message> & {
          key: string;
        };
        return { ...entry, message: { ...entry.message, urgency, why, conversation } };
      },
    );
  const keep = (entry: OutboxEntry): void => {
    update.run(
      entry.state,
      JSON.stringify(entry),
      entry.endedMs === null ? null : Math.round(entry.endedMs),
      entry.seq,
    );
  };
  return {
    escalations: (): Escalation[] => {
      const place = { table: 'escalation', row: 1, runId: null };
      return unreadable.read(place, () => storedEscalations(escalations.get() ?? '[]')) ?? [];
    },
    unprocessed: (): AlarmChange[] => stepsOf(unprocessed.all(), unreadable),
    saveEscalations: db.transaction(
      (current: readonly Escalation[], added: readonly OutboxEntry[], changed: readonly OutboxEntry[]): number[] => {
        const duplicates: number[] = [];
        for (const entry of added) {
          const { seq, channelId, message, drillId, state, endedMs } = entry;
          const done = insert.run(seq, channelId, message.key, drillId, state, JSON.stringify(entry), endedMs);
          if (done.changes === 0) duplicates.push(seq);
        }
        for (const entry of changed) keep(entry);
        updateEscalations.run(JSON.stringify(current));
        return duplicates;
      },
    ),
    keepEntries: db.transaction((entries: readonly OutboxEntry[]): void => {
      for (const entry of entries) keep(entry);
    }),
    waiting: (): OutboxEntry[] => readable(waiting.all()),
    lastSeq: (): number => lastSeq.get() ?? 0,
    ended: (filter: { readonly dead: boolean; readonly limit: number }): OutboxEntry[] =>
      readable((filter.dead ? dead : ended).all(filter.limit)),
    pictureOf: (alarmId: number): Message['picture'] => JSON.parse(hasPicture.get(`alarm-${alarmId}-*`) ?? 'null'),
    forgetDead: (): void => void forgetDead.run(),
    forgetBefore: (ms: number): void => void forgetBefore.run(Math.round(ms)),
  };
}
