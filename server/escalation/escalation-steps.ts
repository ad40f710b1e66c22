import { type Alarm, type AlarmChange, PRIORITIES, type Priority } from '../alarm/alarm.ts';
import { alertsPeople, awaitsAcknowledgement, isSuppressed } from '../alarm/life-cycle.ts';
import { type Contact, quietUntil } from './contact.ts';
import type { Escalation, EscalationPlan, EscalationStep, Notification, Recipient } from './escalation.ts';
import { type Urgency, urgencyOf } from './urgency.ts';

const MINUTE_MS = 60_000;
/** Occurrences soon after the last notification are collected for this long and sent in one message. */
export const AGAIN_NOT_BEFORE_MS = MINUTE_MS;
/** The same while no one has to get up: common practice, no source. */
export const AGAIN_IF_IT_CAN_WAIT_MS = 30 * MINUTE_MS;

/**
 * Handles a step of an alarm. Only an unacknowledged alarm notifies people; one that is acknowledged or suppressed does not. If it
 * is suppressed by design before it was acknowledged, its escalation continues when it is restored.
 */
export function onAlarmChange(
  known: Escalation | null,
  change: AlarmChange,
  plan: EscalationPlan,
  nowMs: number,
): EscalationStep {
  const { alarm } = change;
  // Suppressed by design before it was acknowledged, for instance because the line fell silent: the escalation waits.
  if (known !== null && isSuppressedUnanswered(alarm))
    return { escalation: { ...known, alarm }, notifications: [], withdraw: false };
  if (!awaitsAcknowledgement(alarm.state)) return end(known, change, plan, nowMs);
  // Handled by `onTime` as well, so that the result is the same when it is repeated after a crash.
  if (known !== null) return onTime({ ...known, alarm }, plan, nowMs);
  if (!alertsPeople(change)) return { escalation: null, notifications: [], withdraw: false };
  const escalation: Escalation = {
    alarm,
    sinceMs: Math.round(change.timeMs),
    startedMs: nowMs,
    round: 0,
    roundMs: nowMs,
    toldMs: nowMs,
    toldOccurrences: alarm.occurrences,
    reminders: 0,
    told: [],
    held: [],
  };
  return onTime(escalation, plan, nowMs);
}

/** The notifications about one alarm that are due now. */
export function onTime(known: Escalation, plan: EscalationPlan, nowMs: number): EscalationStep {
  if (isSuppressed(known.alarm.state)) return { escalation: known, notifications: [], withdraw: false };
  let escalation = withCorrectedClock(known, nowMs);
  const notifications: Notification[] = [];
  const notify = (kind: Notification['kind'], number: number, contacts: readonly Contact[]) => {
    const split = splitByQuietHours(escalation, contacts, plan, nowMs);
    escalation = split.escalation;
    if (split.now.length === 0) return;
    const { alarm, sinceMs, startedMs } = escalation;
    const step = `${kind}${number}-${sinceMs}`;
    notifications.push({ alarm, kind, sinceMs, step, recipients: split.now, waitedMs: nowMs - startedMs, by: null });
  };
  const { priority } = escalation.alarm;
  const getsUp = (contact: Contact) => urgencyFor(escalation, contact, plan, nowMs).getUp;

  if (escalation.held.length > 0) {
    const waits = escalation.held.filter(({ untilMs }) => nowMs < untilMs).map(({ contactId }) => contactId);
    // What could wait at first may have become worth getting up for, such as blobs that follow each other.
    const due = plan.contacts.filter(
      (one) =>
        escalation.held.some(({ contactId }) => contactId === one.id) && (!waits.includes(one.id) || getsUp(one)),
    );
    const held = escalation.held.filter(
      ({ contactId }) => waits.includes(contactId) && !due.some(({ id }) => id === contactId),
    );
    if (held.length < escalation.held.length) {
      escalation = { ...escalation, held };
      notify('raised', escalation.toldOccurrences, due);
    }
  }

  const someoneGetsUp = upToRound(escalation.round, priority, plan).some(getsUp);
  const againAfterMs = someoneGetsUp ? AGAIN_NOT_BEFORE_MS : AGAIN_IF_IT_CAN_WAIT_MS;
  if (escalation.alarm.occurrences > escalation.toldOccurrences && nowMs >= escalation.toldMs + againAfterMs) {
    const { occurrences } = escalation.alarm;
    escalation = { ...escalation, toldOccurrences: occurrences, toldMs: nowMs };
    notify('again', occurrences, upToRound(escalation.round, priority, plan));
  }

  const next = nextRound(escalation.round, priority, plan);
  if (
    next !== null &&
    (nowMs >= escalation.roundMs + plan.rules.escalateAfterMin * MINUTE_MS || unreachable(escalation, plan))
  ) {
    // Without an earlier notification this is the first one, not an escalation.
    const kind = escalation.round === 0 ? 'raised' : 'escalated';
    escalation = { ...escalation, round: next, roundMs: nowMs, toldMs: nowMs };
    notify(kind, kind === 'raised' ? escalation.toldOccurrences : next, inRound(next, priority, plan));
  }

  // What can wait is not repeated as often as what cannot.
  const everyMin = plan.rules.remindEveryMin[priority === 'high' && !someoneGetsUp ? 'medium' : priority];
  if (everyMin > 0 && escalation.round > 0 && nowMs >= escalation.toldMs + everyMin * MINUTE_MS) {
    escalation = { ...escalation, reminders: escalation.reminders + 1, toldMs: nowMs };
    notify('reminder', escalation.reminders, upToRound(escalation.round, priority, plan));
  }
  return { escalation, notifications, withdraw: false };
}

/** After the clock was ahead, the escalation must not wait for that time: it continues as if it had started now. */
function withCorrectedClock(escalation: Escalation, nowMs: number): Escalation {
  if (escalation.startedMs <= nowMs && escalation.roundMs <= nowMs && escalation.toldMs <= nowMs) return escalation;
  return {
    ...escalation,
    startedMs: Math.min(escalation.startedMs, nowMs),
    roundMs: Math.min(escalation.roundMs, nowMs),
    toldMs: Math.min(escalation.toldMs, nowMs),
    // If their quiet hours have not ended, they are delayed again.
    held: escalation.held.map((one) => ({ ...one, untilMs: Math.min(one.untilMs, nowMs) })),
  };
}

/** Suppressed by design, and still unacknowledged when it is restored. */
function isSuppressedUnanswered({ state, suppression }: Alarm): boolean {
  return state === 'suppressedByDesign' && suppression !== null && awaitsAcknowledgement(suppression.before);
}

/** Ends an escalation. After an acknowledgement, those who were notified learn who acknowledged. */
function end(known: Escalation | null, change: AlarmChange, plan: EscalationPlan, nowMs: number): EscalationStep {
  if (known === null) return { escalation: null, notifications: [], withdraw: false };
  const contacts = plan.contacts.filter(
    ({ id, quiet }) => known.told.includes(id) && quietUntil(quiet, nowMs, plan.timeZone) === null,
  );
  const notifications: Notification[] =
    change.step === 'acknowledged' && contacts.length > 0
      ? [
          {
            alarm: change.alarm,
            kind: 'acknowledged',
            sinceMs: known.sinceMs,
            step: `acknowledged-${Math.round(change.timeMs)}`,
            recipients: contacts.map((contact) => ({ contact, urgency: SOMEONE_IS_ON_IT })),
            waitedMs: nowMs - known.startedMs,
            by: change.by,
          },
        ]
      : [];
  return { escalation: null, notifications, withdraw: true };
}

const SOMEONE_IS_ON_IT: Urgency = { getUp: false, why: '' };

function urgencyFor({ alarm, sinceMs }: Escalation, contact: Contact, plan: EscalationPlan, nowMs: number): Urgency {
  return urgencyOf(alarm, sinceMs, contact, plan.outlook, nowMs);
}

/** Who is notified now, and who only after their quiet hours. */
function splitByQuietHours(escalation: Escalation, contacts: readonly Contact[], plan: EscalationPlan, nowMs: number) {
  const now: Recipient[] = [];
  const held = [...escalation.held];
  for (const contact of contacts) {
    const urgency = urgencyFor(escalation, contact, plan, nowMs);
    const untilMs = urgency.getUp ? null : quietUntil(contact.quiet, nowMs, plan.timeZone);
    if (untilMs === null) now.push({ contact, urgency });
    else if (!held.some(({ contactId }) => contactId === contact.id)) held.push({ contactId: contact.id, untilMs });
  }
  const told = [...new Set([...escalation.told, ...now.map(({ contact }) => contact.id)])];
  return { escalation: { ...escalation, held, told }, now };
}

/** Every channel of everyone notified so far is failing or gone, so no one can answer. */
function unreachable(escalation: Escalation, plan: EscalationPlan): boolean {
  if (escalation.round === 0) return true;
  const channels = upToRound(escalation.round, escalation.alarm.priority, plan).flatMap(({ channelIds }) => channelIds);
  return channels.every((id) => plan.failingChannels.has(id));
}

function wants(contact: Contact, priority: Priority): boolean {
  return contact.channelIds.length > 0 && PRIORITIES.indexOf(priority) <= PRIORITIES.indexOf(contact.leastPriority);
}

/** The next round with a contact for this priority; null = none. */
function nextRound(after: number, priority: Priority, plan: EscalationPlan): number | null {
  const rounds = plan.contacts.filter((one) => one.round > after && wants(one, priority)).map(({ round }) => round);
  return rounds.length === 0 ? null : Math.min(...rounds);
}

const inRound = (round: number, priority: Priority, plan: EscalationPlan) =>
  plan.contacts.filter((one) => one.round === round && wants(one, priority));

const upToRound = (round: number, priority: Priority, plan: EscalationPlan) =>
  plan.contacts.filter((one) => one.round <= round && wants(one, priority));
