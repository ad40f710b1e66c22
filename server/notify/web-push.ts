import { createECDH } from 'node:crypto';
import type { PushSettings } from '../escalation/channel.ts';
import { type Message, whyAndText } from '../escalation/message.ts';
import type { Clock } from '../monitor/clock.ts';
import type { Answer } from './ask.ts';
import { type ChannelAdapter, DeliveryFailure, RETRIED } from './delivery.ts';
import { post, retryAfterMs } from './post.ts';

/** The keys that identify this service to push services (RFC 8292). A new pair would void every subscription. */
export interface PushKeys {
  readonly publicKey: string;
  readonly privateKey: string;
}

/** What the page's service worker shows. */
interface PushPayload {
  readonly title: string;
  readonly body: string;
  /** A newer message replaces an older one with the same tag. */
  readonly tag: string;
  readonly path: string;
  /** Path of a picture of the strand; null = there is none. */
  readonly picture: string | null;
  readonly priority: Message['priority'];
  /** It replaces the one before without a sound. */
  readonly quiet: boolean;
}

/** A pair on the curve P-256, both base64url: the public one uncompressed (65 bytes), the private one 32 bytes. */
export function makePushKeys(): PushKeys {
  const pair = createECDH('prime256v1');
  const publicKey = pair.generateKeys('base64url');
  const privateKey = pair.getPrivateKey();
  // The engine drops leading zeros; the format needs all 32 bytes.
  const padded = Buffer.concat([Buffer.alloc(32 - privateKey.length), privateKey]);
  return { publicKey, privateKey: padded.toString('base64url') };
}

/** @throws Error if it is no such pair */
export function readPushKeys(json: string): PushKeys {
  const { publicKey, privateKey } = JSON.parse(json) as PushKeys;
  const pair = createECDH('prime256v1');
  pair.setPrivateKey(privateKey, 'base64url');
  if (pair.getPublicKey('base64url') !== publicKey)
    throw new Error('The public key does not belong to the private key.');
  return { publicKey, privateKey };
}

/** A push service accepts at most 4096 bytes, encryption included (RFC 8030, section 7.2). */
const BODY_CHARACTERS_MAX = 900;
const TTL_S: Readonly<Record<Message['priority'], number>> = { high: 12 * 3600, medium: 4 * 3600, low: 3600 };

/** Web push: RFC 8030 delivery, RFC 8291 encryption, RFC 8292 identification. */
export function push(settings: PushSettings, keys: PushKeys, clock: Clock): ChannelAdapter {
  const { endpoint, p256dh, auth } = settings;
  return {
    async send(message, context) {
      const url = new URL(endpoint);
      // Loaded when it is needed, to keep the start short.
      const { default: webPush } = await import('web-push');
      // Push services require a contact; some refuse a made-up mail address.
      const subject = context.pageAddress.startsWith('https:') ? context.pageAddress : 'mailto:strandward@example.org';
      const { headers, body } = webPush.generateRequestDetails(
        { endpoint, keys: { p256dh, auth } },
        JSON.stringify(payloadOf(message)),
        {
          vapidDetails: { subject, ...keys },
          TTL: TTL_S[message.priority],
          urgency: message.priority === 'high' ? 'high' : 'normal',
          topic: tagOf(message),
        },
      );
      const { 'Content-Length': _, ...rest } = headers as Record<string, string>;
      await post(
        url,
        {
          headers: Object.fromEntries(Object.entries(rest).map(([name, value]) => [name, String(value)])),
          body: new Uint8Array(body as Buffer),
          signal: context.signal,
        },
        (answer) => refusal(answer, url.host, clock()),
      );
    },
  };
}

function payloadOf(message: Message): PushPayload {
  const { title, firstCheck, caution, priority } = message;
  const textAndCheck = [whyAndText(message), firstCheck].filter(Boolean).join(' ');
  // A long text is cut, never the caution.
  const textMax = caution === '' ? BODY_CHARACTERS_MAX : BODY_CHARACTERS_MAX - caution.length - 1;
  const body = [textAndCheck.slice(0, Math.max(0, textMax)), caution]
    .filter(Boolean)
    .join(' ')
    .slice(0, BODY_CHARACTERS_MAX);
  const picture =
    message.picture && message.answerPath && `/api/answers/${message.answerPath.split('/').at(-1)}/picture`;
  return {
    title,
    body,
    tag: tagOf(message),
    path: message.answerPath ?? '/',
    picture,
    priority,
    quiet: message.urgency === 'canWait' && (message.kind === 'again' || message.kind === 'acknowledged'),
  };
}

/** All messages of a conversation share a tag: at most 32 characters of base64url (RFC 8030, section 5.4). */
function tagOf({ conversation }: Message): string {
  return conversation.slice(-32);
}

function refusal(answer: Answer, host: string, nowMs: number): DeliveryFailure {
  const { status } = answer;
  if (status === 404 || status === 410) {
    return new DeliveryFailure(
      'gone',
      'This browser has given up its subscription (or it expired).',
      'Open the People page in that browser and add it again.',
    );
  }
  if (status === 401 || status === 403) {
    return new DeliveryFailure(
      'retry',
      `The push service ${host} does not accept the keys of this service (status ${status}).`,
      'Set the address of the page to its real https address, then let the browser subscribe again.',
    );
  }
  const more = { retryAfterMs: retryAfterMs(answer.headers['retry-after'], nowMs) };
  if (status === 429 || status >= 500) {
    const text = `The push service ${host} accepts no messages at the moment (status ${status}).`;
    return new DeliveryFailure('retry', text, RETRIED, more);
  }
  return new DeliveryFailure(
    'refused',
    `The push service ${host} does not accept this message (status ${status}).`,
    'Let the browser subscribe again.',
  );
}
