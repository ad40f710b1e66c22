import type { FastifyRequest } from 'fastify';
import { type Credential, includesRight, RIGHT_VERBS, type Right } from '../entities/device.ts';
import type { IdentityService } from '../identity/identity-service.ts';
import { digestOf } from '../identity/secret.ts';
import { Problem } from '../problem/problem.ts';
import { isLoopback } from '../settings/startup-settings.ts';
import type { RouteSpec } from './contract/route-table.ts';
import type { KeyGuesses } from './key-guesses.ts';
import { plainAddress } from './recent-addresses.ts';
import { sessionSecretOf } from './session-cookie.ts';
import { TooManyRequests } from './too-many-requests.ts';

/** Set by proxies, each in its own way. Behind one, every request comes from this machine, whoever sent it. */
const FORWARDED =
  /(?:^|-)(?:forward(?:ed)?|proxied)(?:-|$)|(?:^|-)(?:client|connecting|real|remote|\w*user)-?(?:ip|addr(?:ess)?)$|^x-(?:original|envoy|real)-|(?:^|-)remote-user$|^(?:via|cdn-loop)$/;
const CHANGING = /^(?:POST|PUT|PATCH|DELETE)$/;

/** What a request may do, and on whose behalf. */
export interface Access {
  readonly right: Right;
  /** null = this machine itself, or the access key. */
  readonly credential: Credential | null;
  /** True if the browser sent the secret as a cookie, which can be renewed. */
  readonly byCookie: boolean;
}

interface Door {
  readonly identity: IdentityService;
  readonly guesses: KeyGuesses;
}

/**
 * Checks one request.
 *
 * A token counts before a cookie, and a cookie before the machine that the request came from. A foreign page in a paired
 * browser could reach the service too, so `Origin`, if the browser sends it, must be that of the page; what changes
 * something, or opens a WebSocket, must have one if it came with a cookie.
 *
 * @returns null = the route needs no right, and the caller has none
 * @throws Problem `access-denied`, `not-paired`, `right-missing` or `too-many-requests`
 */
export function checkAccess(request: FastifyRequest, needed: RouteSpec['right'], door: Door): Access | null {
  refuseForeignPage(request);
  if (needed === 'none') return null;
  const access = byToken(request, door) ?? byCookie(request, door) ?? byMachine(request, door);
  if (access === null) {
    throw new Problem(
      'not-paired',
      'This device is not paired.',
      'Pair it: Set-up → Devices on a paired device, or “strandward pair” on the machine. A program sends its token as “Authorization: Bearer TOKEN”.',
    );
  }
  if (access.byCookie) requireOwnPage(request);
  if (!includesRight(access.right, needed)) {
    throw new Problem(
      'right-missing',
      `This needs the right to ${RIGHT_VERBS[needed]}; ${access.credential === null ? 'you have' : `“${access.credential.name}” has`} the right to ${RIGHT_VERBS[access.right]}.`,
      access.credential?.kind === 'token'
        ? 'Use a token with that right: Set-up → Devices.'
        : 'Use a device with that right, or pair this one again with it.',
    );
  }
  return access;
}

/** Whether what needs no right, such as the page itself, may show the caller the state of the line. */
export function mayWatch(request: FastifyRequest, door: Door): boolean {
  const access = byCookie(request, door) ?? byMachine(request, door);
  return access !== null && includesRight(access.right, 'watch');
}

/** @throws Problem `too-many-requests` if this address has to wait before its next key or code is looked at */
export function refuseIfGuessing(guesses: KeyGuesses, ip: string): void {
  const waitMs = guesses.waitMs(ip);
  if (waitMs > 0)
    throw new TooManyRequests('Too many wrong keys or codes came from this address.', waitMs, 'send the right one');
}

/** Counts a wrong key, token or code. */
export function wrongSecret(guesses: KeyGuesses, ip: string, secret: string): void {
  guesses.failed(ip, digestOf(secret).toString('base64'));
}

function byToken(request: FastifyRequest, { identity, guesses }: Door): Access | null {
  const secret = /^Bearer +(.+)$/i.exec(request.headers.authorization ?? '')?.[1];
  if (secret === undefined) return null;
  refuseIfGuessing(guesses, request.ip);
  const credential = identity.find('token', secret);
  if (credential !== null) return { right: credential.right, credential, byCookie: false };
  if (identity.isAccessKey(secret)) return { right: 'manage', credential: null, byCookie: false };
  wrongSecret(guesses, request.ip, secret);
  throw new Problem(
    'not-paired',
    'The token is wrong or was removed.',
    'Send a token from Set-up → Devices as “Authorization: Bearer TOKEN”.',
  );
}

function byCookie(request: FastifyRequest, { identity }: Door): Access | null {
  const secret = sessionSecretOf(request.headers);
  const credential = secret === null ? null : identity.find('device', secret);
  if (credential === null) return null;
  // A browser on the machine itself may do as much without its cookie.
  const right = isThisMachine(request, identity) ? 'manage' : credential.right;
  return { right, credential, byCookie: true };
}

function byMachine(request: FastifyRequest, { identity }: Door): Access | null {
  return isThisMachine(request, identity) ? { right: 'manage', credential: null, byCookie: false } : null;
}

/**
 * Whether the request came from a program or browser on this machine. `Host` must be a loopback name, against DNS rebinding.
 * With an access key this machine needs it too: a proxy that hides what it forwards would otherwise let everyone in.
 */
const isThisMachine = (request: FastifyRequest, identity: IdentityService): boolean =>
  !identity.hasAccessKey && isDirectFromHere(request);

/** Whether a connection comes from this machine, and no proxy has shown that it passes on what others sent. */
export function isDirectFromHere({ socket, headers, raw }: FastifyRequest): boolean {
  return (
    // Browsers have not sent it for twenty years, but some proxies send it by default.
    raw.httpVersionMajor * 10 + raw.httpVersionMinor > 10 &&
    // The address of the connection itself: what a header says counts for nothing here.
    isLoopback(plainAddress(socket.remoteAddress ?? '')) &&
    isLoopback((headers.host ?? '').replace(/:\d+$/, '')) &&
    !Object.keys(headers).some((name) => FORWARDED.test(name.replaceAll('_', '-')))
  );
}

function refuseForeignPage({ headers, method }: FastifyRequest): void {
  const { origin } = headers;
  const site = headers['sec-fetch-site'];
  if (origin !== undefined && hostOf(origin) !== headers.host) throw foreignPage(`A page from ${origin}`);
  if (CHANGING.test(method) && site !== undefined && site !== 'same-origin') throw foreignPage('Another page');
}

function requireOwnPage({ headers, method }: FastifyRequest): void {
  const changes = CHANGING.test(method) || headers.upgrade !== undefined;
  if (changes && headers.origin === undefined) throw foreignPage('A request with a cookie but without an Origin');
}

function foreignPage(who: string): Problem {
  return new Problem('access-denied', `${who} may not use this service.`, "Open the service's own page.");
}

function hostOf(origin: string): string | null {
  return URL.canParse(origin) ? new URL(origin).host : null;
}
