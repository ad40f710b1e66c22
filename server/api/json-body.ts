import type { FastifyInstance } from 'fastify';
import { Problem } from '../problem/problem.ts';

/**
 * Reads JSON bodies as the web server does, but refuses bytes that are no UTF-8, which it would replace by question marks, and says
 * so if it is only the name of a field that it refuses.
 */
export function readJsonBodies(api: Pick<FastifyInstance, 'addContentTypeParser' | 'getDefaultJsonParser'>): void {
  const parse = api.getDefaultJsonParser('error', 'error');
  api.addContentTypeParser<Buffer>('application/json', { parseAs: 'buffer' }, (request, bytes, done) => {
    const text = textOf(bytes);
    if (text === null)
      return done(new Problem('bad-request', 'The body is not UTF-8.', 'Encode it as UTF-8 (RFC 8259, section 8.1).'));
    return parse(request, text, (error, value) => done(error && isJson(text) ? refusedName() : error, value));
  });
}

function textOf(bytes: Buffer): string | null {
  try {
    return new TextDecoder('utf-8', { fatal: true }).decode(bytes);
  } catch {
    return null;
  }
}

function isJson(text: string): boolean {
  try {
    JSON.parse(text);
    return true;
  } catch {
    return false;
  }
}

/** Copied into an object, such a field would change all others. */
const refusedName = () =>
  new Problem('bad-request', 'A field of the body is named “__proto__” or “constructor.prototype”.', 'Leave it out.');
