import type { FastifyRequest } from 'fastify';
import { deviceKindOf, CREDENTIAL_NAME_MAX as NAME_MAX } from '../entities/device.ts';
import { messageOf, Problem } from '../problem/problem.ts';
import type { Access } from './access.ts';
import { plainAddress } from './recent-addresses.ts';

/** Stored if neither the caller nor its device has a name. */
const DEFAULT_WHO = 'someone who gave no name';

/** Percent-encoded UTF-8, because a header may contain ASCII only. */
const BY_HEADER = 'strandward-by';

export interface Caller {
  /** Who acts: `Ada, on kitchen phone`. */
  readonly by: string;
  /** Where the call came from: `192.168.1.20, Android phone`. */
  readonly from: string;
}

/** @throws Problem `bad-name` if the name in the header cannot be used */
export function callerOf(request: FastifyRequest, access: Access | null): Caller {
  const person = personFrom(request.headers[BY_HEADER]);
  const device = access?.credential?.name;
  return {
    by: person !== null && device !== undefined ? `${person}, on ${device}` : (person ?? device ?? DEFAULT_WHO),
    from: whereFrom(request.ip, request.headers['user-agent']),
  };
}

/** null = the caller gives no name. */
function personFrom(header: string | string[] | undefined): string | null {
  if (header === undefined) return null;
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

function whereFrom(address: string, userAgent: string | undefined): string {
  const plain = plainAddress(address);
  const device = deviceKindOf(userAgent ?? '');
  return device === null ? plain : `${plain}, ${device}`;
}
