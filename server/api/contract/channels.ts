import { type Static, Type } from 'typebox';
import { CHANNEL_KINDS, MAIL_SECURITIES } from '../../escalation/channel.ts';
import { routes } from './route-table.ts';
import { given, IdParam, int, list, named, num, numOrNull, oneOf, orNull, text } from './schema.ts';

/** Channels to people. A secret goes in and never comes out again: '' there means "keep it". */

export const NAME_MAX = 60;
export const ADDRESS_MAX = 2000;

const WebhookInput = given({
  kind: Type.Literal('webhook'),
  url: text({ maxLength: ADDRESS_MAX, description: 'Secret' }),
  secret: text({ maxLength: 200, description: 'Key of the signature; secret' }),
  template: text({ maxLength: 8000, description: 'JSON with {{text}} and the like; empty = the message as it is' }),
});
const EmailInput = given({
  kind: Type.Literal('email'),
  host: text({ maxLength: 255 }),
  port: int({ minimum: 1, maximum: 65_535 }),
  security: oneOf(MAIL_SECURITIES),
  user: text({ maxLength: 255 }),
  password: text({ maxLength: 500, description: 'Secret' }),
  from: text({ maxLength: 255 }),
  to: text({ maxLength: 1000, description: 'Several with commas' }),
  certificate: text({ maxLength: 20_000, description: 'PEM of a certificate to trust beside the usual ones' }),
});
const MqttInput = given({
  kind: Type.Literal('mqtt'),
  address: text({ maxLength: ADDRESS_MAX }),
  user: text({ maxLength: 255 }),
  password: text({ maxLength: 500, description: 'Secret' }),
  baseTopic: text({ maxLength: 200 }),
  certificate: text({ maxLength: 20_000 }),
});
const PushInput = given({
  kind: Type.Literal('push'),
  endpoint: text({ maxLength: ADDRESS_MAX }),
  p256dh: text({ maxLength: 200 }),
  auth: text({ maxLength: 100 }),
});

export const ChannelInput = given(
  {
    name: text({ minLength: 1, maxLength: NAME_MAX }),
    settings: Type.Union([WebhookInput, EmailInput, MqttInput, PushInput]),
  },
  { $id: 'ChannelInput' },
);
export type ChannelInput = Static<typeof ChannelInput>;

export const ChannelView = named('Channel', {
  id: int(),
  name: text(),
  kind: oneOf(CHANNEL_KINDS),
  whereTo: text({ description: 'Where it leads, without secrets' }),
  settings: Type.Record(Type.String(), Type.Union([Type.String(), Type.Number()]), {
    description: 'As entered, secrets left empty',
  }),
  kept: list(text(), 'Names of the secrets that are there'),
  phase: oneOf(['untried', 'working', 'failing']),
  sinceMs: num(),
  text: text({ description: 'What is wrong; empty while it works' }),
  remedy: text(),
  lastDeliveredMs: numOrNull(),
  waiting: int({ description: 'Messages that wait for it' }),
});
export type ChannelView = Static<typeof ChannelView>;

export const channels = routes({
  'POST /api/channels': {
    operationId: 'addChannel',
    tag: 'people',
    summary: 'Add a channel',
    description: 'A way to reach people: a webhook, a mailbox, an MQTT broker or a browser.',
    body: ChannelInput,
    answers: { 201: ChannelView },
  },
  'PUT /api/channels/:id': {
    operationId: 'changeChannel',
    tag: 'people',
    summary: 'Change a channel',
    description: 'Secrets given as empty text stay as they are.',
    params: IdParam,
    body: ChannelInput,
    answers: { 200: ChannelView },
  },
  'DELETE /api/channels/:id': {
    operationId: 'removeChannel',
    tag: 'people',
    summary: 'Remove a channel',
    description: 'Nobody is notified over it any more.',
    params: IdParam,
    answers: { 204: null },
  },
  'POST /api/channels/test': {
    operationId: 'testChannel',
    tag: 'people',
    summary: 'Send a test message over a channel',
    description: 'Takes the channel as given, saved or not, and answers at once whether the message was delivered.',
    body: given({
      ...ChannelInput.properties,
      id: orNull(int({ minimum: 1 }), 'Of a saved one, whose secrets it has'),
    }),
    answers: { 204: null },
  },
});
