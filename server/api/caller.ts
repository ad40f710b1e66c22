import type { FastifyRequest } from 'fastify';
import { messageOf, Problem } from '../problem/problem.ts';

/** Kinds of device, as far as a browser reveals them; the first match counts. */
const DEVICES: readonly (readonly [pattern: RegExp, text: string])[] = [
  [/iPhone/, 'iPhone'],
  [/iPad/, 'iPad'],
  [/Android.*Mobile/, 'Android phone'],
  [/Android/, 'Android tablet'],
  [/Windows/, 'Windows computer'],
  [/Macintosh/, 'Mac'],
  [/CrOS/, 'Chromebook'],
  [/Linux/, 'Linux computer'],
];

/** Stored if the caller gives no name. */
const DEFAULT_WHO = 'someone who gave no name';

/** Percent-encoded UTF-8, because a header may contain ASCII only. */
const BY_HEADER = 'strandward-by';
const NAME_MAX = 60;

export interface Caller {
  readonly by: string;
  /** Where the call came from: `192.168.1.20, Android phone`. */
  readonly from: string;
}

/** @throws Problem `bad-name` if the name in the header cannot be used */
export function callerOf(request: FastifyRequest): Caller {
  return {
    by: nameFrom(request.headers[BY_HEADER]),
    from: whereFrom(request.ip, request.headers['user-agent']),
  };
}

function nameFrom(header: string | string[] | undefined): string {
  if (header === undefined) return DEFAULT_WHO;
  let name: string;
  try {
    name = decodeURIComponent(String(header)).trim();
  } catch (thrown) {
    throw badName(`can't be read: ${messageOf(thrown)}`);
  }
  if (name === '') throw badName('is empty');
  if (name.length > NAME_MAX) throw badName(`is longer than ${NAME_MAX} characters`);
  if (/\p{Cc}/u.test(name)) throw badName('contains control characters');
  return name;
}

function badName(what: string): Problem {
  return new Problem(
    'bad-name',
    `The name in the Strandward-By header ${what}.`,
    `Send 1 to ${NAME_MAX} characters as percent-encoded UTF-8, such as Zo%C3%AB, or leave the header out.`,
  );
}

/** Shows an IPv4 address that arrived over IPv6 in its usual form. */
function whereFrom(address: string, userAgent: string | undefined): string {
  const plain = address.replace(/^::ffff:/, '');
  const device = DEVICES.find(([pattern]) => pattern.test(userAgent ?? ''))?.[1];
  return device === undefined ? plain : `${plain}, ${device}`;
}
