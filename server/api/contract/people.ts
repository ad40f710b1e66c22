import { type Static, Type } from 'typebox';
import { PRIORITIES } from '../../alarm/alarm.ts';
import { CONTACT_DEFAULTS } from '../../escalation/contact.ts';
import { MESSAGE_KINDS } from '../../escalation/message.ts';
import { ENTRY_STATES } from '../../escalation/outbox-entry.ts';
import { ADDRESS_MAX, ChannelView, NAME_MAX, PushInput } from './channels.ts';
import { routes } from './route-table.ts';
import {
  bool,
  component,
  IdParam,
  input,
  int,
  list,
  num,
  numOrNull,
  oneOf,
  orNull,
  text,
  withDefault,
} from './schema.ts';

export const ContactInput = input(
  {
    name: text({ minLength: 1, maxLength: NAME_MAX, description: 'A person, or a group that shares a channel' }),
    channelIds: Type.Array(int({ minimum: 1 }), { maxItems: 50 }),
    leastPriority: oneOf(PRIORITIES),
    quiet: orNull(
      input({ from: text(), to: text() }),
      'Local times, e.g. 22:00, between which only what is worth getting up for is sent at once; null = none',
    ),
    wakeAboveBlobsPerHour: withDefault(
      int({
        minimum: 0,
        maximum: 1000,
        description: 'More blobs than this in an hour are worth getting up for; 0 = every blob is',
      }),
      CONTACT_DEFAULTS.wakeAboveBlobsPerHour,
    ),
    tellWhenReady: withDefault(
      bool('Also send a message when the strand is ready to wind'),
      CONTACT_DEFAULTS.tellWhenReady,
    ),
    round: int({
      minimum: 1,
      maximum: 9,
      description: '1 = notified first, 2 = notified if no one in round 1 answered, and so on',
    }),
  },
  { $id: 'ContactInput' },
);
export type ContactInput = Static<typeof ContactInput>;

export const ContactView = component('Contact', { id: int(), ...ContactInput.properties });
export type ContactView = Static<typeof ContactView>;

const minutes = () => num({ minimum: 0, maximum: 1440 });
export const RulesInput = input(
  {
    pageAddress: text({ maxLength: ADDRESS_MAX }),
    escalateAfterMin: minutes(),
    remindEveryMin: input({ high: minutes(), medium: minutes(), low: minutes() }),
    drill: orNull(
      input({
        weekdays: Type.Array(int({ minimum: 0, maximum: 6 }), { maxItems: 7, description: '0 = Sunday' }),
        at: text({ description: 'Local time, such as 18:30' }),
      }),
      'When alarm tests start automatically; null = never',
    ),
    drillAnswerWithinMin: minutes(),
    heartbeatAddress: orNull(text({ maxLength: ADDRESS_MAX, description: 'Secret; null = keep it, empty = none' })),
    heartbeatEveryS: num(),
  },
  { $id: 'EscalationRulesInput' },
);
export type RulesInput = Static<typeof RulesInput>;

const RulesView = component('EscalationRules', {
  ...RulesInput.properties,
  heartbeatAddress: orNull(text({ description: 'Its host only; null = none' })),
});

export const MessageView = component(
  'Message',
  {
    seq: int(),
    channelId: int(),
    to: text(),
    kind: oneOf(MESSAGE_KINDS),
    title: text(),
    text: text(),
    state: oneOf(ENTRY_STATES),
    attempts: int(),
    reason: text({ description: 'Why it was not delivered; empty = no error' }),
    createdMs: num(),
    endedMs: numOrNull(),
  },
  'A message to a person, and whether it was delivered.',
);
export type MessageView = Static<typeof MessageView>;

export const DrillView = component('Drill', {
  id: int(),
  startedMs: num(),
  by: text(),
  untilMs: num(),
  outcome: oneOf(['waiting', 'all', 'some', 'none']),
  people: list(Type.Object({ contactId: int(), name: text(), confirmedMs: numOrNull() })),
  messages: list(MessageView),
});
export type DrillView = Static<typeof DrillView>;

export const PeopleView = component('People', {
  channels: list(ChannelView),
  contacts: list(ContactView),
  rules: RulesView,
  heartbeat: orNull(Type.Object({ lastOkMs: numOrNull(), text: text() })),
  drills: list(DrillView),
  failedMessages: list(MessageView),
  recent: list(MessageView),
  notificationProblems: list(text(), 'What is wrong with notifications, one sentence each'),
  unreadable: list(
    Type.Object({ kind: oneOf(['channel', 'person', 'rules']), id: int(), name: orNull(text()) }),
    'Entries that cannot be read and are in no list above; people and channels can be removed by their id',
  ),
  pushKey: text({ description: 'The applicationServerKey for pushManager.subscribe, base64url' }),
});
export type PeopleView = Static<typeof PeopleView>;

/** Who is notified, by which rules, and alarm tests. */
export const people = routes({
  'GET /api/people': {
    operationId: 'getPeople',
    tag: 'people',
    right: 'watch',
    summary: 'Get who is notified, and whether it works',
    description: 'People, channels and their health, rules, alarm tests, and messages that could not be delivered.',
    answers: { 200: PeopleView },
  },
  'POST /api/people': {
    operationId: 'addPerson',
    tag: 'people',
    right: 'manage',
    summary: 'Add a person',
    description: 'A person, or a group that shares a channel.',
    body: ContactInput,
    answers: { 201: ContactView },
  },
  'PUT /api/people/:id': {
    operationId: 'changePerson',
    tag: 'people',
    right: 'manage',
    summary: 'Change how a person is notified',
    description: 'Replaces all settings of this person.',
    params: IdParam,
    body: ContactInput,
    answers: { 200: ContactView },
  },
  'DELETE /api/people/:id': {
    operationId: 'removePerson',
    tag: 'people',
    right: 'manage',
    summary: 'Remove a person',
    description: 'The person is no longer notified.',
    params: IdParam,
    answers: { 204: null },
  },
  'POST /api/phones': {
    operationId: 'addPhone',
    tag: 'people',
    right: 'act',
    summary: 'Notify this browser',
    description:
      'Adds the push subscription of the browser to a person, who is added if there is none of that name, and sends it an alarm test.',
    body: input({
      person: text({ maxLength: NAME_MAX }),
      device: text({ maxLength: NAME_MAX, description: 'Name of its channel' }),
      settings: PushInput,
    }),
    answers: { 201: DrillView },
  },
  'PUT /api/escalation-rules': {
    operationId: 'setEscalationRules',
    tag: 'people',
    right: 'manage',
    summary: 'Set the notification rules',
    description: 'Escalation, reminders, scheduled alarm tests and the heartbeat.',
    body: RulesInput,
    answers: { 200: RulesView },
  },
  'DELETE /api/failed-messages': {
    operationId: 'clearFailedMessages',
    tag: 'people',
    right: 'manage',
    summary: 'Clear the messages that could not be delivered',
    description: 'To be used once someone has read them.',
    answers: { 204: null },
  },
  'POST /api/drills': {
    operationId: 'startDrill',
    tag: 'people',
    right: 'act',
    summary: 'Start an alarm test',
    description: 'Sends a test alarm to everyone in the same way as a real alarm.',
    answers: { 201: DrillView },
  },
  'POST /api/drills/:id/confirm': {
    operationId: 'confirmDrill',
    tag: 'people',
    right: 'act',
    summary: 'Confirm that an alarm test reached a person',
    description: 'For a person who received the message but could not open its link.',
    params: IdParam,
    body: input({ contactId: int({ minimum: 1 }) }),
    answers: { 204: null },
  },
});
