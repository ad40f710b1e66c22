import { type Static, Type } from 'typebox';
import { PRIORITIES } from '../alarm/alarm.ts';
import { MESSAGE_KINDS } from '../calling/call-message.ts';
import { CHANNEL_KINDS, MAIL_SECURITIES } from '../calling/channel.ts';
import { ENTRY_STATES } from '../calling/outbox-entry.ts';
import { QUESTION_STATES } from '../calling/people-desk.ts';

/** What travels about how people are reached. A secret goes in and never comes out again: '' there means "as it was". */

const words = <const T extends readonly string[]>(values: T) =>
  Type.Unsafe<T[number]>({ type: 'string', enum: values });
const orNull = <T extends Parameters<typeof Type.Union>[0][number]>(schema: T) => Type.Union([schema, Type.Null()]);
const text = (maxLength: number, description?: string) =>
  Type.String(description === undefined ? { maxLength } : { maxLength, description });
const only = { additionalProperties: false } as const;
const NAME_MAX = 60;
const ADDRESS_MAX = 2000;

const WebhookInput = Type.Object(
  {
    kind: Type.Literal('webhook'),
    url: text(ADDRESS_MAX, 'Secret'),
    secret: text(200, 'Key of the signature; secret'),
    template: text(8000, 'JSON with {{text}} and the like; empty = the message as it is'),
  },
  only,
);
const EmailInput = Type.Object(
  {
    kind: Type.Literal('email'),
    host: text(255),
    port: Type.Integer({ minimum: 1, maximum: 65_535 }),
    security: words(MAIL_SECURITIES),
    user: text(255),
    password: text(500, 'Secret'),
    from: text(255),
    to: text(1000, 'Several with commas'),
    certificate: text(20_000, 'PEM of a certificate to trust beside the usual ones'),
  },
  only,
);
const MqttInput = Type.Object(
  {
    kind: Type.Literal('mqtt'),
    address: text(ADDRESS_MAX),
    user: text(255),
    password: text(500, 'Secret'),
    baseTopic: text(200),
    certificate: text(20_000),
  },
  only,
);
const PushInput = Type.Object(
  { kind: Type.Literal('push'), endpoint: text(ADDRESS_MAX), p256dh: text(200), auth: text(100) },
  only,
);

export const ChannelInput = Type.Object(
  {
    name: Type.String({ minLength: 1, maxLength: NAME_MAX }),
    settings: Type.Union([WebhookInput, EmailInput, MqttInput, PushInput]),
  },
  { $id: 'ChannelInput', ...only },
);
export type ChannelInput = Static<typeof ChannelInput>;

export const ChannelView = Type.Object(
  {
    id: Type.Integer(),
    name: Type.String(),
    kind: words(CHANNEL_KINDS),
    whereTo: Type.String({ description: 'Where it leads, without secrets' }),
    settings: Type.Record(Type.String(), Type.Union([Type.String(), Type.Number()]), {
      description: 'As entered, secrets left empty',
    }),
    kept: Type.Array(Type.String(), { description: 'Names of the secrets that are there' }),
    phase: words(['untried', 'working', 'failing']),
    sinceMs: Type.Number(),
    words: Type.String({ description: 'What is wrong; empty while it works' }),
    remedy: Type.String(),
    lastDeliveredMs: orNull(Type.Number()),
    waiting: Type.Integer({ description: 'Messages that wait for it' }),
  },
  { $id: 'Channel' },
);
export type ChannelView = Static<typeof ChannelView>;

export const ContactInput = Type.Object(
  {
    name: Type.String({ minLength: 1, maxLength: NAME_MAX, description: 'A person, or a group that shares a channel' }),
    channelIds: Type.Array(Type.Integer({ minimum: 1 }), { maxItems: 50 }),
    leastPriority: words(PRIORITIES),
    quiet: orNull(Type.Object({ from: Type.String(), to: Type.String() }, only)),
    round: Type.Integer({ minimum: 1, maximum: 9, description: '1 = called at once, 2 = when nobody of 1 answered …' }),
  },
  { $id: 'ContactInput', ...only },
);
export type ContactInput = Static<typeof ContactInput>;

export const ContactView = Type.Object({ id: Type.Integer(), ...ContactInput.properties }, { $id: 'Contact' });
export type ContactView = Static<typeof ContactView>;

const minutes = Type.Number({ minimum: 0, maximum: 1440 });
export const RulesInput = Type.Object(
  {
    pageAddress: text(ADDRESS_MAX),
    escalateAfterMin: minutes,
    remindEveryMin: Type.Object({ high: minutes, medium: minutes, low: minutes }, only),
    drill: orNull(
      Type.Object(
        { weekdays: Type.Array(Type.Integer({ minimum: 0, maximum: 6 }), { maxItems: 7 }), at: Type.String() },
        only,
      ),
    ),
    drillAnswerWithinMin: minutes,
    heartbeatAddress: orNull(text(ADDRESS_MAX, 'Secret; null = as it was, empty = none')),
    heartbeatEveryS: Type.Number(),
  },
  { $id: 'CallingRulesInput', ...only },
);
export type RulesInput = Static<typeof RulesInput>;

export const RulesView = Type.Object(
  {
    ...RulesInput.properties,
    heartbeatAddress: orNull(Type.String({ description: 'Its host; null = none' })),
  },
  { $id: 'CallingRules' },
);
export type RulesView = Static<typeof RulesView>;

export const LetterView = Type.Object({
  seq: Type.Integer(),
  channelId: Type.Integer(),
  to: Type.String(),
  kind: words(MESSAGE_KINDS),
  title: Type.String(),
  text: Type.String(),
  state: words(ENTRY_STATES),
  attempts: Type.Integer(),
  why: Type.String(),
  createdMs: Type.Number(),
  endedMs: orNull(Type.Number()),
});
export type LetterView = Static<typeof LetterView>;

export const DrillView = Type.Object(
  {
    id: Type.Integer(),
    startedMs: Type.Number(),
    by: Type.String(),
    untilMs: Type.Number(),
    outcome: words(['waiting', 'everybody', 'some', 'nobody']),
    people: Type.Array(
      Type.Object({
        contactId: Type.Integer(),
        name: Type.String(),
        confirmedMs: orNull(Type.Number()),
      }),
    ),
    letters: Type.Array(LetterView),
  },
  { $id: 'Drill' },
);
export type DrillView = Static<typeof DrillView>;

export const PeopleView = Type.Object(
  {
    channels: Type.Array(ChannelView),
    contacts: Type.Array(ContactView),
    rules: RulesView,
    heartbeat: orNull(Type.Object({ lastOkMs: orNull(Type.Number()), words: Type.String() })),
    drills: Type.Array(DrillView),
    deadLetters: Type.Array(LetterView),
    recent: Type.Array(LetterView),
    troubles: Type.Array(Type.String()),
    pushKey: Type.String({ description: 'For pushManager.subscribe: applicationServerKey, base64url' }),
  },
  { $id: 'People' },
);
export type PeopleView = Static<typeof PeopleView>;

export const QuestionView = Type.Object(
  {
    what: words(['alarm', 'drill']),
    names: Type.Array(Type.String(), { description: 'In whose name it is answered' }),
    state: words(QUESTION_STATES),
    occurrences: orNull(Type.Integer({ description: 'How often the alarm has happened, to be given with the answer' })),
    answeredBy: orNull(Type.String()),
    title: Type.String(),
    text: Type.String(),
    firstCheck: Type.String(),
    caution: Type.String(),
    atMs: orNull(Type.Number()),
    priority: orNull(words(PRIORITIES)),
    pictured: Type.Boolean({ description: 'A picture of the strand may be had beside it' }),
  },
  { $id: 'Question' },
);
export type QuestionView = Static<typeof QuestionView>;
