import { createHash, timingSafeEqual } from 'node:crypto';
import type { FastifyRequest } from 'fastify';
import { Problem } from '../problem/problem.ts';
import { isLoopback } from '../settings/startup-settings.ts';
import type { KeyGuesses } from './key-guesses.ts';
import type { Tickets } from './tickets.ts';

/** Set by proxies. Behind one, every request comes from this machine, whoever sent it. */
const FORWARDED = /^(?:forwarded|via|x-real-ip|x-client-ip|cf-connecting-ip|true-client-ip|x-forwarded-.+)$/;

/** Who may use the service. */
export interface AccessRules {
  /** null = everyone who reaches the (loopback) address. */
  readonly accessKey: string | null;
  readonly host: string;
}

/** What lets a caller in, or keeps it out, besides the rules. */
interface Door {
  readonly tickets: Tickets;
  readonly guesses: KeyGuesses;
}

interface RouteAccess {
  /** The route checks the token in its link instead of the key. */
  readonly keyless: boolean;
  /** The route accepts a ticket instead of the key. */
  readonly ticket: boolean;
}

/**
 * Checks one request.
 *
 * Without a key the service listens on loopback only. A foreign page in the same browser could still reach it, so `Host`
 * must be a loopback name (against DNS rebinding), and `Origin`, if the browser sends it, must be that of the page. A proxy
 * on this machine would let in everyone who reaches it, so what it forwards is refused.
 *
 * @throws Problem `access-denied`, `access-key-missing` or `too-many-requests`
 */
export function checkAccess(request: FastifyRequest, rules: AccessRules, door: Door, route: RouteAccess): void {
  if (rules.accessKey === null && !isLoopback(hostNameOf(request.headers.host ?? ''))) {
    throw new Problem(
      'access-denied',
      `This service accepts only the names of this machine, not “${request.headers.host ?? ''}”.`,
      'Open the page as http://127.0.0.1 or http://localhost, or start the service with an access key.',
    );
  }
  const forwardedBy =
    rules.accessKey === null ? Object.keys(request.headers).find((name) => FORWARDED.test(name)) : undefined;
  if (forwardedBy !== undefined) {
    throw new Problem(
      'access-denied',
      `This request came through a proxy (it has the header ${forwardedBy}), and the service has no access key.`,
      'Start the service with an access key, or open the page on this machine directly.',
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
  if (rules.accessKey === null || route.keyless || (hasTicket(request, door.tickets) && route.ticket)) return;
  checkKey(request, rules.accessKey, door.guesses);
}

function checkKey(request: FastifyRequest, expected: string, guesses: KeyGuesses): void {
  const key = keyOf(request);
  const waitMs = key === '' ? 0 : guesses.waitMs(request.ip);
  if (waitMs > 0) {
    throw new Problem(
      'too-many-requests',
      'Too many wrong access keys came from this address.',
      `Wait ${Math.ceil(waitMs / 1000)} s, then send the right one.`,
    );
  }
  if (key !== '' && timingSafeEqual(digestOf(key), digestOf(expected))) return;
  if (key !== '') guesses.failed(request.ip, digestOf(key).toString('base64'));
  throw new Problem(
    'access-key-missing',
    'The access key is missing or wrong.',
    'Send it as “Authorization: Bearer KEY”; the page asks for it.',
  );
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

/** Digests are compared instead of keys, so that the time taken reveals neither length nor content. */
const digestOf = (text: string) => createHash('sha256').update(text).digest();

function hostOf(origin: string): string | null {
  return URL.canParse(origin) ? new URL(origin).host : null;
}
