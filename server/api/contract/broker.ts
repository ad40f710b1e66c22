import { type TSchema, Type } from 'typebox';
import { PRIORITIES } from '../../alarm/alarm.ts';
import { MESSAGE_KINDS } from '../../escalation/message.ts';
import { AlarmView } from './alarms.ts';
import { CutPlanView } from './cut-plan.ts';
import { LiveState } from './live-state.ts';
import { LotView, RunDetail, SpoolView } from './runs-and-spools.ts';
import { component, int, list, num, numOrNull, oneOf, orNull, text } from './schema.ts';

/** What a line publishes on an MQTT broker, below the base topic of the channel; served as /asyncapi.json. */

const key = text({
  description:
    'The same for every copy, which comes if the broker or the service ends before a message is acknowledged',
});

const AVAILABILITIES = ['watching', 'stopped', 'gone'] as const;

const Availability = component('Availability', {
  status: oneOf(AVAILABILITIES, 'stopped = on purpose; gone = the broker lost the connection (its last will)'),
});

const { serverTimeMs, lineName, sentence, title, severity, stage, run, spool, zones, now } = LiveState.properties;
const { id, type, subject, priority, state, raisedMs } = AlarmView.properties;
const StandingAlarm = Type.Object({
  ...{ id, type, subject, priority, state, raisedMs },
  title: AlarmView.properties.title,
  sentence: AlarmView.properties.sentence,
});
export const LineStateOnBroker = component(
  'LineStateOnBroker',
  {
    ...{ serverTimeMs, lineName, sentence, title, severity, stage, run, spool },
    diameterMm: now.properties.diameterMm,
    speedMmPerS: now.properties.speedMmPerS,
    zones,
    alarms: list(
      StandingAlarm,
      'Active alarms, and past ones not acknowledged yet, most urgent first; the rest of each is in its last step',
    ),
  },
  'The fields of GET /api/state that other programs use most.',
);

const { timeMs, step, by, reason, alarm } = RunDetail.properties.alarms.items.properties;
export const AlarmStepOnBroker = component(
  'AlarmStepOnBroker',
  { key, lineName, ...{ timeMs, step, by, reason, alarm } },
  'A step in the life of an alarm, and the alarm after it. Steps of one alarm come in their order; those of suppressed alarms are among them.',
);

export const SpoolOnBroker = component(
  'SpoolOnBroker',
  {
    key,
    lineName,
    spool: SpoolView,
    lot: orNull(LotView),
    diameterMeanMm: numOrNull({ digits: 4, description: 'null = nothing was wound' }),
    diameterSdMm: numOrNull({ digits: 5 }),
    cutPlan: orNull(CutPlanView, 'The cut list at that time; null = nothing was wound'),
  },
  'A spool that has ended, with its verdict. If it is continued, it comes again when it ends again, with another key.',
);

const MessageOnBroker = component(
  'MessageOnBroker',
  {
    key,
    conversation: text({ description: 'The same for all messages about one thing' }),
    kind: oneOf(MESSAGE_KINDS),
    urgency: orNull(oneOf(['getUp', 'canWait'])),
    why: text({ description: 'Why to get up for it or not' }),
    priority: oneOf(PRIORITIES),
    title: text(),
    text: text(),
    firstCheck: text(),
    caution: text(),
    line: text(),
    atMs: num(),
    alarm: orNull(int(), 'Id of the alarm; null = about none'),
    link: orNull(text({ description: 'Where it can be answered' })),
  },
  'A message to people who are notified over this channel.',
);

interface BrokerTopic {
  readonly name: string;
  readonly summary: string;
  readonly retained: boolean;
  readonly schema: TSchema;
}

/** The topic tree. All are sent with QoS 1. */
export const BROKER_TOPICS: readonly BrokerTopic[] = [
  { name: 'availability', summary: 'Whether the line is being watched', retained: true, schema: Availability },
  {
    name: 'state',
    summary: 'The state of the line: when something important changes, and every ten seconds',
    retained: true,
    schema: LineStateOnBroker,
  },
  { name: 'alarms', summary: 'Each step of each alarm', retained: false, schema: AlarmStepOnBroker },
  { name: 'spools', summary: 'Each spool when it has ended', retained: false, schema: SpoolOnBroker },
  { name: 'messages', summary: 'What people are notified of', retained: false, schema: MessageOnBroker },
];
