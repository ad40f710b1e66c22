import { createHmac, randomBytes, timingSafeEqual } from 'node:crypto';

/**
 * What a link in a message answers. An alarm that was answered may happen again: `sinceMs` (start of its escalation, whole
 * UTC ms) says which occurrence is meant.
 */
export type AnswerTarget =
  | { readonly what: 'alarm'; readonly id: number; readonly sinceMs: number }
  | { readonly what: 'drill'; readonly id: number };

/** What the token in a link says: what it answers, in whose name, and until when (whole UTC ms). */
export type AnswerToken = AnswerTarget & { readonly contactIds: readonly number[]; readonly untilMs: number };

/** How long the link in a message works: a lost phone or an old mail must not answer alarms for ever. */
export const ANSWER_VALID_MS = 86_400_000;

const SIGNATURE_BYTES = 16;
const SECRET_BYTES = 32;

/** Signs the links of this service. */
export const makeAnswerSecret = (): string => randomBytes(SECRET_BYTES).toString('base64url');

/** @throws Error if it is no such secret */
export function readAnswerSecret(text: string): string {
  if (
    Buffer.from(text, 'base64url').toString('base64url') !== text ||
    Buffer.byteLength(text, 'base64url') !== SECRET_BYTES
  )
    throw new Error('It does not have its 32 bytes.');
  return text;
}

/**
 * The token of a link that answers without the access key: its target, signed with a secret of this service. It gives
 * access to nothing else, and no one else can make one. It has letters, digits and hyphens only, so that chat services
 * recognise the whole link.
 */
export function tokenFor(target: AnswerToken, secret: string): string {
  const { id, contactIds, untilMs } = target;
  const subject = target.what === 'alarm' ? `a${id}t${target.sinceMs.toString(36)}` : `d${id}`;
  const text = [subject, `u${untilMs.toString(36)}`, ...contactIds].join('-');
  return `${text}-${signatureOf(text, secret).toString('hex')}`;
}

/** null = this service did not sign it. */
export function readToken(token: string, secret: string): AnswerToken | null {
  const match =
    /^((?:a(\d{1,15})t([\da-z]{1,10})|d(\d{1,15}))(?:-u([\da-z]{1,10}))?((?:-\d{1,15}){0,50}))-([\da-f]{32})$/.exec(
      token,
    );
  if (match === null) return null;
  const [, text = '', alarmId, since = '', drillId, until, contacts = '', signature = ''] = match;
  if (!timingSafeEqual(Buffer.from(signature, 'hex'), signatureOf(text, secret))) return null;
  const contactIds = contacts.split('-').filter(Boolean).map(Number);
  // A link of the first versions to an alarm test does not say until when, so it has expired.
  if (alarmId === undefined)
    return { what: 'drill', id: Number(drillId), contactIds, untilMs: until === undefined ? 0 : parseMs(until) };
  const sinceMs = parseMs(since);
  // Links of the first versions do not say until when: as long after what happened as newer ones after their message.
  const untilMs = until === undefined ? sinceMs + ANSWER_VALID_MS : parseMs(until);
  return { what: 'alarm', id: Number(alarmId), sinceMs, contactIds, untilMs };
}

const parseMs = (base36: string): number => Number.parseInt(base36, 36);

function signatureOf(text: string, secret: string): Buffer {
  return createHmac('sha256', secret).update(text).digest().subarray(0, SIGNATURE_BYTES);
}
