import { rmSync } from 'node:fs';
import type { Alarm, AlarmChange } from '../../server/alarm/alarm.ts';
import { BrokerTexts } from '../../server/api/broker-texts.ts';
import type { ChannelSettings } from '../../server/escalation/channel.ts';
import { CONTACT_DEFAULTS, type Contact } from '../../server/escalation/contact.ts';
import { DEFAULT_RULES, type EscalationRules } from '../../server/escalation/escalation-rules.ts';
import type { SpoolOutlook } from '../../server/escalation/spool-outlook.ts';
import { RecordGuard } from '../../server/monitor/record-guard.ts';
import { Notifier } from '../../server/notify/notifier.ts';
import { openDatabase } from '../../server/store/database.ts';
import type { Store } from '../../server/store/index.ts';
import { peopleStore } from '../../server/store/people-store.ts';
import { UnreadableRows } from '../../server/store/record/unreadable-rows.ts';
import { recordReader } from '../../server/store/record-reader.ts';
import { recordWriter } from '../../server/store/record-writer.ts';
import { alarmOf, changeOf, NO_SPOOL } from '../escalation/alarms.ts';
import { newRecord } from '../store/new-record.ts';

export interface NotifierUnderTest {
  readonly store: Pick<Store, 'people' | 'writer' | 'reader'> & {
    close(): void;
    /** Pages that the database may still grow by; null = no limit. */
    room(pages: number | null): void;
  };
  readonly notifier: Notifier;
  /** The log, one line per entry. */
  readonly logged: string[];
  /** How far the clock of the notifier is ahead of the wall clock, ms. */
  aheadMs: number;
  /** How far it was set ahead since the start, ms. */
  setAheadMs: number;
  outlook: SpoolOutlook;
  firstReadyMs: number | null;
  /** How often the notifier has asked for the state of the line. */
  looks: number;
  addChannel(name: string, settings: ChannelSettings): Promise<number>;
  /** A person who gets up for every blob. */
  addPerson(name: string, channelIds: readonly number[], more?: Partial<Contact>): number;
  setRules(rules: Partial<EscalationRules>): void;
  /** Writes the step to the journal (later, if the disk fails) and passes it on, as the monitor does. */
  step(what: AlarmChange['step'], alarm: Alarm, by?: string): void;
  /** The alarm is normal again. */
  end(alarmId: number): void;
  raise(more?: Partial<Alarm>): Alarm;
  /** Stops in order and starts again with the same record. */
  restart(): Promise<void>;
  remove(): Promise<void>;
}

/** The notifier with a real record and real channels; only the line is simulated. */
export async function startNotifier(options: { readonly attemptMs?: number } = {}): Promise<NotifierUnderTest> {
  const folder = newRecord('strandward-notify-');
  const logged: string[] = [];
  const note = (level: string) => (message: string, facts?: object) =>
    void logged.push(`${level} ${message} ${JSON.stringify(facts ?? {})}`);
  const log = { info: note('info'), warn: note('warn'), error: note('error') };
  const guard = new RecordGuard(log);
  const texts = new BrokerTexts(() => 'Bench line');
  const standing = new Map<number, Alarm>();
  let nextId = 1;

  const lookedAt = () => {
    under.looks += 1;
    return under.firstReadyMs;
  };
  const open = () => {
    const { db, path, close } = openDatabase(folder, false);
    const store = {
      people: peopleStore(db, path, new UnreadableRows()),
      writer: recordWriter(db, path, () => null, new UnreadableRows()),
      reader: recordReader(db, new UnreadableRows()),
      close,
      room(pages: number | null) {
        const now = Number(db.pragma('page_count', { simple: true }));
        db.pragma(`max_page_count = ${pages === null ? 4294967294 : now + pages}`);
      },
    };
    const notifier = new Notifier({
      store: store.people,
      clock: () => Date.now() + under.aheadMs + under.setAheadMs,
      steadyClock: () => Date.now() + under.aheadMs,
      log,
      timeZone: 'UTC',
      ...(options.attemptMs === undefined ? {} : { attemptMs: options.attemptMs }),
      line: () => ({
        name: 'Bench line',
        runId: null,
        live: true,
        firstReadyMs: lookedAt(),
      }),
      outlook: () => under.outlook,
      trace: async () => null,
      status: () => {
        const alarms = [...standing.values()].map(({ id, type, state, priority }) => ({ id, type, state, priority }));
        const json = JSON.stringify({ lineName: 'Bench line', alarms });
        return { atMs: Date.now() + under.aheadMs, important: json, json: () => json };
      },
      writeAlarmStep: (change, key) => texts.alarmStep(change, key),
      alarm: (id) => standing.get(id) ?? null,
      acknowledge: (id, who) => {
        const alarm = { ...standing.get(id)!, state: 'acknowledged' as const, acknowledgedBy: who };
        under.step('acknowledged', alarm, who);
        return alarm;
      },
      recordAction: (what, who) => void store.writer.log({ timeMs: Date.now(), runId: null, who, what }),
    });
    return { store, notifier };
  };
  const under = {
    aheadMs: 0,
    setAheadMs: 0,
    outlook: NO_SPOOL,
    firstReadyMs: null as number | null,
    looks: 0,
    logged,
    async addChannel(name: string, settings: ChannelSettings) {
      return (await under.notifier.addChannel({ name, settings }, 'test')).id;
    },
    addPerson: (name: string, channelIds: readonly number[], more: Partial<Contact> = {}) =>
      under.notifier.addContact(
        {
          ...CONTACT_DEFAULTS,
          wakeAboveBlobsPerHour: 0,
          name,
          channelIds,
          leastPriority: 'low',
          quiet: null,
          round: 1,
          ...more,
        },
        'test',
      ).id,
    setRules: (rules: Partial<EscalationRules>) =>
      void under.notifier.changeRules({ ...DEFAULT_RULES, ...rules }, 'test'),
    step(what: AlarmChange['step'], alarm: Alarm, by: string | null = null) {
      standing.set(alarm.id, alarm);
      const changes = [changeOf(what, alarm, by)];
      guard.retry(true);
      guard.write('alarms', () => under.store.writer.saveAlarmChanges(null, changes));
      under.notifier.alarms(changes);
    },
    end: (alarmId: number) => void standing.delete(alarmId),
    raise(more: Partial<Alarm> = {}) {
      const nowMs = Date.now() + under.aheadMs;
      const alarm = alarmOf(more.priority ?? 'high', { id: nextId++, raisedMs: nowMs, lastOccurredMs: nowMs, ...more });
      under.step('raised', alarm);
      return alarm;
    },
    async restart() {
      await under.notifier.stop();
      guard.retry(true);
      under.store.close();
      Object.assign(under, open());
      under.notifier.start();
    },
    async remove() {
      await under.notifier.stop();
      under.store.close();
      rmSync(folder, { recursive: true, force: true });
    },
  } as NotifierUnderTest & ReturnType<typeof open>;
  Object.assign(under, open());
  under.notifier.start();
  return under;
}
