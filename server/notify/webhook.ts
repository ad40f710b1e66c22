import { createHmac } from 'node:crypto';
import type { WebhookSettings } from '../escalation/channel.ts';
import { linkOf, type Message, placeholdersOf } from '../escalation/message.ts';
import { parseTemplate } from '../escalation/template.ts';
import type { Clock } from '../monitor/clock.ts';
import type { Answer } from './ask.ts';
import { type ChannelAdapter, type DeliveryContext, DeliveryFailure, RETRIED } from './delivery.ts';
import { post, retryAfterMs } from './post.ts';

/**
 * POST of a JSON body, signed by Standard Webhooks 1.0.0: `webhook-id`, `webhook-timestamp` (s) and
 * `webhook-signature` = `v1,` + base64 of HMAC-SHA256 over `id.timestamp.body`. The id is the message's key, so that a
 * receiver can recognise a copy.
 */
export function webhook(settings: WebhookSettings, clock: Clock): ChannelAdapter {
  return {
    async send(message, context) {
      const body = await bodyOf(message, settings, context);
      const url = new URL(settings.url);
      const headers = {
        'content-type': 'application/json',
        'user-agent': 'Strandward',
        ...signatureHeaders(message.key, Math.floor(clock() / 1000), body, settings.secret),
      };
      await post(url, { headers, body, signal: context.signal }, (answer) => refusal(answer, url.host, clock()));
    },
  };
}

/** @param secret as entered: `whsec_` + base64, or any text; '' = unsigned */
export function signatureHeaders(id: string, seconds: number, body: string, secret: string): Record<string, string> {
  const headers = { 'webhook-id': id, 'webhook-timestamp': String(seconds) };
  if (secret === '') return headers;
  const key = secret.startsWith('whsec_') ? Buffer.from(secret.slice(6), 'base64') : Buffer.from(secret, 'utf8');
  const signature = createHmac('sha256', key).update(`${id}.${seconds}.${body}`).digest('base64');
  return { ...headers, 'webhook-signature': `v1,${signature}` };
}

/** An alarm does not wait longer for its picture while the record is busy. */
const PICTURE_WITHIN_MS = 80;

async function bodyOf(message: Message, settings: WebhookSettings, context: DeliveryContext): Promise<string> {
  if (settings.template !== '') {
    return parseTemplate(settings.template).fill(placeholdersOf(message, context.pageAddress));
  }
  const picture = await context.picture(PICTURE_WITHIN_MS);
  return JSON.stringify({
    type: `strandward.${message.kind}`,
    timestamp: new Date(message.atMs).toISOString(),
    data: {
      key: message.key,
      conversation: message.conversation,
      urgency: message.urgency,
      why: message.why,
      priority: message.priority,
      title: message.title,
      text: message.text,
      firstCheck: message.firstCheck,
      caution: message.caution,
      line: message.lineName,
      clock: message.clock,
      alarm: message.alarmId,
      link: linkOf(message, context.pageAddress),
      picture: picture && { type: 'image/png', text: picture.text, base64: picture.png.toString('base64') },
    },
  });
}

/** Retried: a user can fix the cause, or it passes. Any other status means that this message is not acceptable. */
const RETRIED_STATUSES = new Set([401, 403, 404, 407, 408, 423, 425, 429]);

function refusal(answer: Answer, host: string, nowMs: number): DeliveryFailure {
  const { status } = answer;
  const answered = `${host} answered with status ${status}`;
  if (status >= 300 && status < 400) {
    return new DeliveryFailure('retry', `${answered}: the address has moved.`, 'Enter the new address.');
  }
  const more = { retryAfterMs: retryAfterMs(answer.headers['retry-after'], nowMs) };
  if (status === 429) return new DeliveryFailure('retry', `${answered}: too many messages.`, RETRIED, more);
  if (status >= 500) return new DeliveryFailure('retry', `${answered}: it has an internal fault.`, RETRIED, more);
  if (status === 401 || status === 403) {
    return new DeliveryFailure(
      'retry',
      `${answered}: access is denied.`,
      'Is the address, with its token, still right?',
    );
  }
  if (status === 404) return new DeliveryFailure('retry', `${answered}: there is nothing there.`, 'Check the address.');
  if (RETRIED_STATUSES.has(status)) return new DeliveryFailure('retry', `${answered}.`, RETRIED, more);
  return new DeliveryFailure(
    'refused',
    `${answered}: it does not accept this message.`,
    'If it needs another format, write a template for it.',
  );
}
