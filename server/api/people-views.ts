import { titleOf } from '../alarm/catalogue.ts';
import { destination, SECRET_FIELDS } from '../escalation/channel.ts';
import type { EscalationRules } from '../escalation/escalation-rules.ts';
import { drillText, isReport } from '../escalation/message.ts';
import type { OutboxEntry } from '../escalation/outbox-entry.ts';
import type { ChannelOverview, DrillOverview, PeopleOverview, Question } from '../escalation/people-service.ts';
import type { QuestionView } from './contract/answers.ts';

/** People and channels as the API returns them, without secrets. */
export function peopleView(overview: PeopleOverview) {
  return {
    ...overview,
    channels: overview.channels.map(channelView),
    rules: rulesView(overview.rules),
    drills: overview.drills.map(drillView),
    failedMessages: overview.failedMessages.map(messageView),
    recent: overview.recent.map(messageView),
    notificationProblems: overview.troubles,
    unreadable: [...overview.unreadable],
  };
}

export function channelView({ channel, state, waiting }: ChannelOverview) {
  const { kind } = channel.settings;
  const { deviceId: _, ...fields } = { deviceId: null, ...channel.settings };
  const secret = new Set<string>(SECRET_FIELDS[kind]);
  const shown = Object.entries(fields as Record<string, string | number>);
  return {
    id: channel.id,
    name: channel.name,
    kind,
    destination: destination(channel.settings),
    settings: Object.fromEntries(shown.map(([name, value]) => [name, secret.has(name) ? '' : value])),
    savedSecrets: shown.filter(([name, value]) => secret.has(name) && value !== '').map(([name]) => name),
    ...state,
    waiting,
  };
}

/** Shows only the host of the heartbeat address, because the rest may contain a token. */
export function rulesView(rules: EscalationRules) {
  const { heartbeatAddress } = rules;
  return { ...rules, heartbeatAddress: heartbeatAddress === '' ? null : new URL(heartbeatAddress).host };
}

export function drillView({ drill, outcome, messages }: DrillOverview) {
  return { ...drill, outcome, messages: messages.map(messageView) };
}

function messageView({ message, ...entry }: OutboxEntry) {
  const { kind, title } = message;
  // What programs read says nothing to people.
  const text = isReport(message) ? '' : message.text;
  return { ...entry, kind, title, text, reason: entry.why };
}

export function questionView({ what, names, alarm, drill, state, hasPicture }: Question): QuestionView {
  const head = {
    kind: what,
    names: [...names],
    state,
    occurrences: null,
    answeredBy: null,
    priority: null,
    hasPicture,
  };
  if (alarm !== null) {
    const { sentence, firstCheck, caution, lastOccurredMs, occurrences, acknowledgedBy } = alarm;
    const answeredBy = state === 'answered' ? acknowledgedBy : null;
    const about = { title: titleOf(alarm), text: sentence, firstCheck, caution, atMs: lastOccurredMs };
    return { ...head, ...about, occurrences, answeredBy, priority: alarm.priority };
  }
  if (drill !== null) {
    const { title, text } = drillText(
      drill.id,
      drill.startedMs,
      Math.round((drill.untilMs - drill.startedMs) / 60_000),
    );
    return { ...head, title, text, firstCheck: '', caution: '', atMs: drill.startedMs };
  }
  const text =
    'This alarm is over: its cause is gone and it was acknowledged. If it is raised again, that is a new alarm with its own message.';
  return { ...head, title: 'Nothing to answer', text, firstCheck: '', caution: '', atMs: null };
}
