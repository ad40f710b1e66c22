import { createHmac, timingSafeEqual } from 'node:crypto';

/** What a link in a message answers, and in whose name. */
export interface Answerable {
  readonly what: 'alarm' | 'drill';
  readonly id: number;
  readonly contactIds: readonly number[];
}

const SIGNATURE_BYTES = 16;

/**
 * The token of a link that answers without the access key: what it answers, signed with a secret of this service. It
 * opens nothing else, and nobody can make one for another alarm. Letters, digits and hyphens only: chat services make
 * links of it as it is.
 */
export function tokenFor({ what, id, contactIds }: Answerable, secret: string): string {
  const text = [`${what === 'alarm' ? 'a' : 'd'}${id}`, ...contactIds].join('-');
  return `${text}-${signatureOf(text, secret).toString('hex')}`;
}

/** null = it is none of ours. */
export function readToken(token: string, secret: string): Answerable | null {
  const match = /^(([ad])(\d{1,15})((?:-\d{1,15}){0,50}))-([\da-f]{32})$/.exec(token);
  if (match === null) return null;
  const [, text = '', what, id, contacts = '', signature = ''] = match;
  if (!timingSafeEqual(Buffer.from(signature, 'hex'), signatureOf(text, secret))) return null;
  return {
    what: what === 'a' ? 'alarm' : 'drill',
    id: Number(id),
    contactIds: contacts.split('-').filter(Boolean).map(Number),
  };
}

function signatureOf(text: string, secret: string): Buffer {
  return createHmac('sha256', secret).update(text).digest().subarray(0, SIGNATURE_BYTES);
}
