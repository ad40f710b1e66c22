import { createHash, timingSafeEqual } from 'node:crypto';
import type { FastifyRequest } from 'fastify';
import { Problem } from '../problem/problem.ts';
import { isLoopback } from '../settings/startup-settings.ts';
import type { Tickets } from './tickets.ts';

/** Who may use the service. */
export interface AccessRules {
  /** null = everyone who reaches the (loopback) address. */
  readonly accessKey: string | null;
  readonly host: string;
}

/**
 * Checks one request.
 *
 * Without a key the service listens on loopback only. A foreign page in the same browser could still reach it, so `Host`
 * must be a loopback name (against DNS rebinding), and `Origin`, if the browser sends it, must be that of the page.
 *
 * @param keyless the route checks a token of its own instead of the key
 * @throws Problem `access-denied` or `access-key-missing`
 */
export function checkAccess(request: FastifyRequest, rules: AccessRules, tickets: Tickets, keyless = false): void {
  if (rules.accessKey === null && !isLoopback(hostNameOf(request.headers.host ?? ''))) {
    throw new Problem(
      'access-denied',
      `This service accepts only the names of this machine, not “${request.headers.host ?? ''}”.`,
      'Open the page as http://127.0.0.1 or http://localhost, or start the service with an access key.',
    );
  }
  const origin = request.headers.origin;
  if (origin !== undefined && hostOf(origin) !== request.headers.host) {
    throw new Problem(
      'access-denied',
      `A page from ${origin} may not use this service.`,
      "Open the service's own page.",
    );
  }
  if (rules.accessKey === null || keyless || hasTicket(request, tickets)) return;
  if (!sameSecret(keyOf(request), rules.accessKey)) {
    throw new Problem(
      'access-key-missing',
      'The access key is missing or wrong.',
      'Send it as “Authorization: Bearer KEY”; the page asks for it.',
    );
  }
}

function hostNameOf(hostHeader: string): string {
  return hostHeader.replace(/:\d+$/, '').replace(/^\[|\]$/g, '');
}

function keyOf(request: FastifyRequest): string {
  return /^Bearer (.+)$/.exec(request.headers.authorization ?? '')?.[1] ?? '';
}

/** A browser cannot set headers on a WebSocket or a link, and the key must not appear in an address. */
function hasTicket(request: FastifyRequest, tickets: Tickets): boolean {
  const { ticket } = (request.query ?? {}) as { ticket?: unknown };
  return typeof ticket === 'string' && tickets.redeem(ticket, request.url.split('?')[0] ?? '');
}

/** Compares digests, so that the time taken reveals neither length nor content. */
function sameSecret(received: string, expected: string): boolean {
  const digest = (text: string) => createHash('sha256').update(text).digest();
  return timingSafeEqual(digest(received), digest(expected));
}

function hostOf(origin: string): string | null {
  return URL.canParse(origin) ? new URL(origin).host : null;
}
