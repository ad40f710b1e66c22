import type { AlarmChange } from '../alarm/alarm.ts';
import { titleOf } from '../alarm/catalogue.ts';
import { localClock } from '../escalation/contact.ts';
import { type MessageText, REPORT_KEY, reportText } from '../escalation/message.ts';
import { expiryOf, type NewEntry } from '../escalation/outbox-entry.ts';
import type { MessageHead } from './messages.ts';

/** A spool whose end is settled, as JSON for programs. */
export interface FinishedSpool {
  readonly name: string;
  readonly endedMs: number;
  /** Another one if the spool is continued and ends again. */
  readonly key: string;
  readonly json: string;
}

/** Writes what programs are sent. `key` marks a copy. */
export type WriteAlarmStep = (change: AlarmChange, key: string) => string;

/** A report of each step for each broker. */
export function alarmReports(
  changes: readonly AlarmChange[],
  brokerIds: readonly number[],
  head: MessageHead,
  write: WriteAlarmStep,
): NewEntry[] {
  if (brokerIds.length === 0) return [];
  return changes.flatMap((change) => {
    const { alarm, step, timeMs } = change;
    const key = `${REPORT_KEY}alarm-${alarm.id}-${step}-${alarm.occurrences}-${Math.round(timeMs)}`;
    const about = { atMs: timeMs, alarmId: alarm.id };
    return perBroker(
      brokerIds,
      key,
      reportText('alarmStep', `${titleOf(alarm)} (${step})`, write(change, key), about),
      head,
    );
  });
}

export function spoolReports(spool: FinishedSpool, brokerIds: readonly number[], head: MessageHead): NewEntry[] {
  const { key, name, json, endedMs } = spool;
  const text = reportText('spoolFinished', `Spool ${name} finished`, json, { atMs: endedMs, alarmId: null });
  return perBroker(brokerIds, key, text, head);
}

function perBroker(brokerIds: readonly number[], key: string, text: MessageText, head: MessageHead): NewEntry[] {
  const { lineName, timeZone, nowMs } = head;
  const clock = localClock(text.atMs, timeZone);
  const message = { ...text, key, conversation: key, lineName, clock, answerPath: null, picture: null };
  const expiresMs = expiryOf(text.kind, nowMs);
  return brokerIds.map((channelId) => ({ channelId, to: 'programs', message, drillId: null, expiresMs }));
}
