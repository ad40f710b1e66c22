import { type Alarm, type AlarmChange, PRIORITIES, type Priority } from '../alarm/alarm.ts';
import { awaitsAcknowledgement, alertsPeople, isSuppressed } from '../alarm/life-cycle.ts';
import { type Contact, quietUntil } from './contact.ts';
import type { Escalation, EscalationPlan, EscalationStep, Notification } from './escalation.ts';

/** A second blob soon after the first is told in one message with what else happened until then. */
export const AGAIN_NOT_BEFORE_MS = 60_000;
const MINUTE_MS = 60_000;

/**
 * An alarm took a step. Only an alarm that waits for an acknowledgement calls anybody: a shelved, suppressed,
 * out-of-service or acknowledged one is silent, whatever its condition does. One that the design suppresses before anybody
 * answered goes on calling when it is back.
 */
export function onAlarmChange(
  known: Escalation | null,
  change: AlarmChange,
  plan: EscalationPlan,
  nowMs: number,
): EscalationStep {
  const { alarm } = change;
  // The line fell silent, or the like, before anybody answered: the calling waits with it.
  if (known !== null && waitsBeneath(alarm))
    return { escalation: { ...known, alarm }, notifications: [], withdraw: false };
  if (!awaitsAcknowledgement(alarm.state)) return over(known, change, plan, nowMs);
  // Told by the first who asks, so the answer to the same question is the same after a crash.
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

/** Time passed: what is due now for one alarm. */
export function onTime(known: Escalation, plan: EscalationPlan, nowMs: number): EscalationStep {
  if (isSuppressed(known.alarm.state)) return { escalation: known, notifications: [], withdraw: false };
  let escalation = asOf(known, nowMs);
  const notifications: Notification[] = [];
  const tell = (kind: Notification['kind'], number: number, contacts: readonly Contact[]) => {
    const split = byQuiet(escalation, contacts, plan, nowMs);
    escalation = split.escalation;
    if (split.now.length === 0) return;
    const { alarm, sinceMs, startedMs } = escalation;
    const step = `${kind}${number}-${sinceMs}`;
    notifications.push({ alarm, kind, sinceMs, step, contacts: split.now, waitedMs: nowMs - startedMs, by: null });
  };
  const { priority } = escalation.alarm;

  const due = escalation.held.filter(({ untilMs }) => nowMs >= untilMs).map(({ contactId }) => contactId);
  if (due.length > 0) {
    escalation = { ...escalation, held: escalation.held.filter(({ contactId }) => !due.includes(contactId)) };
    const contacts = plan.contacts.filter(({ id }) => due.includes(id));
    tell('raised', escalation.toldOccurrences, contacts);
  }

  if (escalation.alarm.occurrences > escalation.toldOccurrences && nowMs >= escalation.toldMs + AGAIN_NOT_BEFORE_MS) {
    const { occurrences } = escalation.alarm;
    escalation = { ...escalation, toldOccurrences: occurrences, toldMs: nowMs };
    tell('again', occurrences, upToRound(escalation.round, priority, plan));
  }

  const next = nextRound(escalation.round, priority, plan);
  if (
    next !== null &&
    (nowMs >= escalation.roundMs + plan.rules.escalateAfterMin * MINUTE_MS || unreachable(escalation, plan))
  ) {
    // Nobody was called before because nobody was to be: then it is not the failure of anybody to answer.
    const kind = escalation.round === 0 ? 'raised' : 'escalated';
    escalation = { ...escalation, round: next, roundMs: nowMs, toldMs: nowMs };
    tell(kind, kind === 'raised' ? escalation.toldOccurrences : next, inRound(next, priority, plan));
  }

  const everyMin = plan.rules.remindEveryMin[priority];
  if (everyMin > 0 && escalation.round > 0 && nowMs >= escalation.toldMs + everyMin * MINUTE_MS) {
    escalation = {
      ...escalation,
      reminders: escalation.reminders + 1,
      toldMs: nowMs,
      toldOccurrences: escalation.alarm.occurrences,
    };
    tell('reminder', escalation.reminders, upToRound(escalation.round, priority, plan));
  }
  return { escalation, notifications, withdraw: false };
}

/** A clock that was ahead, and was put right since, must not let a calling wait for that time: it goes on as if it began now. */
function asOf(escalation: Escalation, nowMs: number): Escalation {
  if (escalation.startedMs <= nowMs && escalation.roundMs <= nowMs && escalation.toldMs <= nowMs) return escalation;
  return {
    ...escalation,
    startedMs: Math.min(escalation.startedMs, nowMs),
    roundMs: Math.min(escalation.roundMs, nowMs),
    toldMs: Math.min(escalation.toldMs, nowMs),
    // Whoever still has quiet hours is held back again.
    held: escalation.held.map((one) => ({ ...one, untilMs: Math.min(one.untilMs, nowMs) })),
  };
}

/** Suppressed by design, and still to be seen when it comes back. */
function waitsBeneath({ state, suppression }: Alarm): boolean {
  return state === 'suppressedByDesign' && suppression !== null && awaitsAcknowledgement(suppression.before);
}

/** Somebody answered, or the alarm was taken out of people's way: those who were told hear who takes care of it. */
function over(known: Escalation | null, change: AlarmChange, plan: EscalationPlan, nowMs: number): EscalationStep {
  if (known === null) return { escalation: null, notifications: [], withdraw: false };
  const contacts = plan.contacts.filter(
    ({ id, quiet }) => known.told.includes(id) && quietUntil(quiet, nowMs, plan.timeZone) === null,
  );
  const notifications: Notification[] =
    change.what === 'acknowledged' && contacts.length > 0
      ? [
          {
            alarm: change.alarm,
            kind: 'acknowledged',
            sinceMs: known.sinceMs,
            step: `acknowledged-${Math.round(change.timeMs)}`,
            contacts,
            waitedMs: nowMs - known.startedMs,
            by: change.by,
          },
        ]
      : [];
  return { escalation: null, notifications, withdraw: true };
}

/** Who is told now, and who when their quiet hours are over. */
function byQuiet(escalation: Escalation, contacts: readonly Contact[], plan: EscalationPlan, nowMs: number) {
  const now: Contact[] = [];
  const held = [...escalation.held];
  for (const contact of contacts) {
    const untilMs = escalation.alarm.priority === 'high' ? null : quietUntil(contact.quiet, nowMs, plan.timeZone);
    if (untilMs === null) now.push(contact);
    else if (!held.some(({ contactId }) => contactId === contact.id)) held.push({ contactId: contact.id, untilMs });
  }
  const told = [...new Set([...escalation.told, ...now.map(({ id }) => id)])];
  return { escalation: { ...escalation, held, told }, now };
}

/** Every channel of everybody called so far is failing or gone: waiting for their answer is waiting for nothing. */
function unreachable(escalation: Escalation, plan: EscalationPlan): boolean {
  if (escalation.round === 0) return true;
  const channels = upToRound(escalation.round, escalation.alarm.priority, plan).flatMap(({ channelIds }) => channelIds);
  return channels.every((id) => plan.failingChannels.has(id));
}

function wants(contact: Contact, priority: Priority): boolean {
  return contact.channelIds.length > 0 && PRIORITIES.indexOf(priority) <= PRIORITIES.indexOf(contact.leastPriority);
}

/** The next round in which anybody wants to hear of this priority; null = there is none. */
function nextRound(after: number, priority: Priority, plan: EscalationPlan): number | null {
  const rounds = plan.contacts.filter((one) => one.round > after && wants(one, priority)).map(({ round }) => round);
  return rounds.length === 0 ? null : Math.min(...rounds);
}

const inRound = (round: number, priority: Priority, plan: EscalationPlan) =>
  plan.contacts.filter((one) => one.round === round && wants(one, priority));

const upToRound = (round: number, priority: Priority, plan: EscalationPlan) =>
  plan.contacts.filter((one) => one.round <= round && wants(one, priority));
