import { type Static, Type } from 'typebox';
import { CHANNEL_KINDS, MAIL_SECURITIES } from '../../escalation/channel.ts';
import { routes } from './route-table.ts';
import { component, IdParam, input, int, list, num, numOrNull, oneOf, orNull, text } from './schema.ts';

/** Channels over which people are notified. A secret can be set but is never returned; '' keeps the saved one. */

export const NAME_MAX = 60;
export const ADDRESS_MAX = 2000;

const WebhookInput = input({
  kind: Type.Literal('webhook'),
  url: text({ maxLength: ADDRESS_MAX, description: 'Secret' }),
  secret: text({ maxLength: 200, description: 'Key of the signature; secret' }),
  template: text({
    maxLength: 8000,
    description: 'JSON with placeholders such as {{text}}; empty = the default message',
  }),
});
const EmailInput = input({
  kind: Type.Literal('email'),
  host: text({ maxLength: 255 }),
  port: int({ minimum: 1, maximum: 65_535 }),
  security: oneOf(MAIL_SECURITIES),
  user: text({ maxLength: 255 }),
  password: text({ maxLength: 500, description: 'Secret' }),
  from: text({ maxLength: 255 }),
  to: text({ maxLength: 1000, description: 'One or more addresses, separated by commas' }),
  certificate: text({ maxLength: 20_000, description: 'A certificate (PEM) to trust in addition to the usual ones' }),
});
const MqttInput = input({
  kind: Type.Literal('mqtt'),
  address: text({ maxLength: ADDRESS_MAX }),
  user: text({ maxLength: 255 }),
  password: text({ maxLength: 500, description: 'Secret' }),
  baseTopic: text({ maxLength: 200, description: 'The topics below it are in /asyncapi.json' }),
  certificate: text({ maxLength: 20_000 }),
  clientCertificate: Type.Optional(
    text({ maxLength: 20_000, description: 'The certificate (PEM) by which the broker knows this line; empty = none' }),
  ),
  clientKey: Type.Optional(
    text({ maxLength: 20_000, description: 'Its private key (PEM) without a passphrase; secret' }),
  ),
});
export const PushInput = input({
  kind: Type.Literal('push'),
  endpoint: text({ maxLength: ADDRESS_MAX }),
  p256dh: text({ maxLength: 200 }),
  auth: text({ maxLength: 100 }),
});

export const ChannelInput = input(
  {
    name: text({ minLength: 1, maxLength: NAME_MAX }),
    settings: Type.Union([WebhookInput, EmailInput, MqttInput, PushInput]),
  },
  { $id: 'ChannelInput' },
);
export type ChannelInput = Static<typeof ChannelInput>;

export const ChannelView = component('Channel', {
  id: int(),
  name: text(),
  kind: oneOf(CHANNEL_KINDS),
  destination: text({ description: 'Where messages are sent, without secrets' }),
  settings: Type.Record(Type.String(), Type.Union([Type.String(), Type.Number()]), {
    description: 'As entered, with secrets left empty, so that they can be sent back',
  }),
  savedSecrets: list(text(), 'Names of the secrets that are saved'),
  phase: oneOf(['untried', 'working', 'failing']),
  sinceMs: num(),
  text: text({ description: 'What is wrong; empty = nothing' }),
  remedy: text(),
  lastDeliveredMs: numOrNull(),
  waiting: int({ description: 'Messages still to be sent' }),
});
export type ChannelView = Static<typeof ChannelView>;

export const channels = routes({
  'POST /api/channels': {
    operationId: 'addChannel',
    tag: 'people',
    right: 'manage',
    summary: 'Add a channel',
    description: 'A way to reach people: a webhook, e-mail, an MQTT broker or a browser.',
    body: ChannelInput,
    answers: { 201: ChannelView },
  },
  'PUT /api/channels/:id': {
    operationId: 'changeChannel',
    tag: 'people',
    right: 'manage',
    summary: 'Change a channel',
    description: 'Send an empty string for a secret to keep the saved one.',
    params: IdParam,
    body: ChannelInput,
    answers: { 200: ChannelView },
  },
  'DELETE /api/channels/:id': {
    operationId: 'removeChannel',
    tag: 'people',
    right: 'manage',
    summary: 'Remove a channel',
    description: 'It is no longer used to notify anyone.',
    params: IdParam,
    answers: { 204: null },
  },
  'POST /api/channels/test': {
    operationId: 'testChannel',
    tag: 'people',
    right: 'manage',
    summary: 'Send a test message over a channel',
    description:
      'Tests the settings in the request; they need not be saved. Succeeds only if the message was delivered.',
    body: input({
      ...ChannelInput.properties,
      id: orNull(int({ minimum: 1 }), 'Id of a saved channel; its secrets replace those left empty'),
    }),
    answers: { 204: null },
  },
});
