import { createECDH } from 'node:crypto';
import type { PushSettings } from '../escalation/channel.ts';
import { linkOf, type Message } from '../escalation/message.ts';
import type { Clock } from '../monitor/clock.ts';
import { type ChannelAdapter, DeliveryFailure } from './delivery.ts';
import { post, retryAfterMs } from './post.ts';

/** The keys by which push services know this service (RFC 8292); another pair, and every subscription is void. */
export interface PushKeys {
  readonly publicKey: string;
  readonly privateKey: string;
}

/** What the page's service worker gets to show. */
interface PushPayload {
  readonly title: string;
  readonly body: string;
  /** A newer one with the same tag takes the place of the older. */
  readonly tag: string;
  readonly path: string;
  /** Where a picture of the strand is to be had; null = there is none. */
  readonly picture: string | null;
  readonly priority: Message['priority'];
}

/** A pair on the curve P-256, both base64url: the public one uncompressed (65 bytes), the private one 32 bytes. */
export function makePushKeys(): PushKeys {
  const pair = createECDH('prime256v1');
  const publicKey = pair.generateKeys('base64url');
  // Leading zeros are left out by the engine, but belong to it.
  const privateKey = pair.getPrivateKey();
  const whole = Buffer.concat([Buffer.alloc(32 - privateKey.length), privateKey]);
  return { publicKey, privateKey: whole.toString('base64url') };
}

/** A push service takes 4096 bytes at most (RFC 8030, section 7.2), encryption included. */
const BODY_CHARACTERS_MAX = 900;
const TTL_S: Readonly<Record<Message['priority'], number>> = { high: 12 * 3600, medium: 4 * 3600, low: 3600 };

/** Web push: RFC 8030 delivery, RFC 8291 encryption, RFC 8292 identification. */
export function push(settings: PushSettings, keys: PushKeys, clock: Clock): ChannelAdapter {
  const { endpoint, p256dh, auth } = settings;
  return {
    async send(message, given) {
      const url = new URL(endpoint);
      // Loaded when it is needed: most starts of the service push nothing at once.
      const { default: webPush } = await import('web-push');
      // Push services want somebody to turn to; some refuse a made-up mail address.
      const subject = given.pageAddress.startsWith('https:') ? given.pageAddress : 'mailto:strandward@example.org';
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
          signal: given.signal,
        },
        (response) => refusal(response, url.host, clock()),
      );
    },
  };
}

function payloadOf(message: Message): PushPayload {
  const { title, text, firstCheck, caution, priority } = message;
  const said = [text, firstCheck].filter(Boolean).join(' ');
  // However long the sentence, what keeps from harm is not cut off.
  const room = caution === '' ? BODY_CHARACTERS_MAX : BODY_CHARACTERS_MAX - caution.length - 1;
  const body = [said.slice(0, Math.max(0, room)), caution].filter(Boolean).join(' ').slice(0, BODY_CHARACTERS_MAX);
  const picture =
    message.picture && message.answerPath && `/api/answers/${message.answerPath.split('/').at(-1)}/picture`;
  return {
    title,
    body,
    tag: tagOf(message),
    path: new URL(linkOf(message, 'http://page')!).pathname,
    picture,
    priority,
  };
}

/** All that is told of one alarm has one tag: at most 32 letters of base64url (RFC 8030, section 5.4). */
function tagOf({ alarmId, key }: Message): string {
  return (alarmId === null ? key : `alarm-${alarmId}`).slice(-32);
}

function refusal(response: Response, host: string, nowMs: number): DeliveryFailure {
  const { status } = response;
  if (status === 404 || status === 410) {
    return new DeliveryFailure(
      'gone',
      'This browser has given up its subscription (or it expired).',
      'Open the page People in that browser and add it anew.',
    );
  }
  if (status === 401 || status === 403) {
    return new DeliveryFailure(
      'again',
      `The push service ${host} does not accept our keys (status ${status}).`,
      'Set the address of the page to its true https address; then let the browser subscribe anew.',
    );
  }
  const more = { retryAfterMs: retryAfterMs(response.headers.get('retry-after'), nowMs) };
  if (status === 429 || status >= 500) {
    const text = `The push service ${host} takes nothing now (status ${status}).`;
    return new DeliveryFailure('again', text, 'It is tried again.', more);
  }
  return new DeliveryFailure(
    'refused',
    `The push service ${host} does not take this message (status ${status}).`,
    'Let the browser subscribe anew.',
  );
}
