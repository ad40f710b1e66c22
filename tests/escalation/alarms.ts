import type { Alarm, AlarmChange, Priority } from '../../server/alarm/alarm.ts';
import { CONTACT_DEFAULTS, type Contact } from '../../server/escalation/contact.ts';
import type { EscalationPlan } from '../../server/escalation/escalation.ts';
import { DEFAULT_RULES } from '../../server/escalation/escalation-rules.ts';
import type { SpoolOutlook } from '../../server/escalation/spool-outlook.ts';

export const NO_SPOOL: SpoolOutlook = { blobsMs: [], cutOut: [], capacityMm: null, wantedMm: null };

/** Monday 2 March 2026, 01:00 UTC: night in Europe. */
export const NIGHT_MS = Date.UTC(2026, 2, 2, 1);

export function alarmOf(priority: Priority, more: Partial<Alarm> = {}): Alarm {
  return {
    id: 7,
    type: priority === 'high' ? 'blob' : 'neck',
    subject: '',
    priority,
    state: 'unacknowledged',
    sentence: 'Blob of 1.98 mm at 41.20 m of spool 1.',
    firstCheck: 'Cut it out.',
    caution: '',
    occurrences: 1,
    raisedMs: NIGHT_MS,
    lastOccurredMs: NIGHT_MS,
    consequence: '',
    ceasedMs: null,
    suppression: null,
    returnedMs: null,
    acknowledgedMs: null,
    acknowledgedBy: null,
    facts: {},
    ...more,
  };
}

export const changeOf = (step: AlarmChange['step'], alarm: Alarm, by: string | null = null): AlarmChange => ({
  alarm,
  step,
  timeMs: alarm.lastOccurredMs,
  by,
  from: null,
  reason: '',
});

/** A contact who gets up for every blob. */
export function contactOf(id: number, name: string, more: Partial<Contact> = {}): Contact {
  return {
    ...CONTACT_DEFAULTS,
    wakeAboveBlobsPerHour: 0,
    id,
    name,
    channelIds: [id * 10],
    leastPriority: 'low',
    quiet: null,
    round: 1,
    ...more,
  };
}

export function planOf(contacts: readonly Contact[], more: Partial<EscalationPlan> = {}): EscalationPlan {
  return {
    contacts,
    rules: DEFAULT_RULES,
    timeZone: 'UTC',
    failingChannels: new Set(),
    outlook: NO_SPOOL,
    ...more,
  };
}
