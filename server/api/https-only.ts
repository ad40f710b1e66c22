import type { FastifyRequest } from 'fastify';
import { Problem } from '../problem/problem.ts';
import { isDirectFromHere } from './access.ts';

/** What a device needs to install the certificate of the house, before it can use HTTPS. */
const OPEN_PATHS = /^\/(?:certificate\/?|api\/certificate(?:\/[^/]+)?|assets\/[^/]+|[\w-]+\.(?:png|svg|webmanifest))$/;

/**
 * Where a request by plain HTTP is sent instead; null = it is served. On the machine itself HTTP is safe, and browsers
 * treat it like HTTPS.
 * @throws Problem `bad-request` if the request does not say which host it is for
 */
export function secureAddress(request: FastifyRequest): string | null {
  const path = request.url.split('?')[0] ?? '';
  if (request.protocol === 'https' || isDirectFromHere(request) || OPEN_PATHS.test(path)) return null;
  // `OPTIONS *` is about no address.
  if (!path.startsWith('/')) return null;
  const base = `https://${request.headers.host ?? ''}`;
  if (!URL.canParse(base)) {
    throw new Problem('bad-request', 'The request does not say which host it is for.', 'Send a Host header.');
  }
  return new URL(base).origin + request.url;
}
