import { createHmac, timingSafeEqual } from 'node:crypto';

/**
 * What a link in a message answers. An alarm that was answered may happen again: `sinceMs` (of its calling, UTC ms whole)
 * tells which time is meant.
 */
export type Asked =
  | { readonly what: 'alarm'; readonly id: number; readonly sinceMs: number }
  | { readonly what: 'drill'; readonly id: number };

/** … and in whose name. */
export type Answerable = Asked & { readonly contactIds: readonly number[] };

const SIGNATURE_BYTES = 16;

/**
 * The token of a link that answers without the access key: what it answers, signed with a secret of this service. It
 * opens nothing else, and nobody can make one for another alarm. Letters, digits and hyphens only: chat services make
 * links of it as it is.
 */
export function tokenFor(asked: Answerable, secret: string): string {
  const { id, contactIds } = asked;
  const text = [asked.what === 'alarm' ? `a${id}t${asked.sinceMs.toString(36)}` : `d${id}`, ...contactIds].join('-');
  return `${text}-${signatureOf(text, secret).toString('hex')}`;
}

/** null = it is none of ours. */
export function readToken(token: string, secret: string): Answerable | null {
  const match = /^((?:a(\d{1,15})t([\da-z]{1,10})|d(\d{1,15}))((?:-\d{1,15}){0,50}))-([\da-f]{32})$/.exec(token);
  if (match === null) return null;
  const [, text = '', alarmId, since = '', drillId, contacts = '', signature = ''] = match;
  if (!timingSafeEqual(Buffer.from(signature, 'hex'), signatureOf(text, secret))) return null;
  const contactIds = contacts.split('-').filter(Boolean).map(Number);
  return alarmId === undefined
    ? { what: 'drill', id: Number(drillId), contactIds }
    : { what: 'alarm', id: Number(alarmId), sinceMs: Number.parseInt(since, 36), contactIds };
}

function signatureOf(text: string, secret: string): Buffer {
  return createHmac('sha256', secret).update(text).digest().subarray(0, SIGNATURE_BYTES);
}
