import { Problem } from '../problem/problem.ts';

/** Another line of the house, watched by its own service. */
export interface OtherLine {
  readonly id: number;
  /** Such as http://192.0.2.7:8751 */
  readonly address: string;
  /** Opens its live feed. */
  readonly watchToken: string;
  /** Acknowledges its alarms; '' = not from here. */
  readonly actToken: string;
}

/** As a user enters it. A token that is left out is kept, as long as the address is the same. */
export interface OtherLineInput {
  readonly address: string;
  readonly watchToken?: string | undefined;
  readonly actToken?: string | undefined;
}

export interface StoredLines {
  /** The last id that was given: links name lines by their ids, so none is given twice. */
  readonly lastId: number;
  readonly lines: readonly OtherLine[];
}

export const OTHER_LINES_MAX = 60;

/**
 * @param before what is stored; null = a new line
 * @throws Problem `bad-setting`
 */
export function checkedLine(entered: OtherLineInput, before: OtherLine | null, id: number): OtherLine {
  const address = addressOf(entered.address);
  // Otherwise whoever may change the address could have the token sent to a machine of theirs.
  const kept = before?.address === address ? before : null;
  const watchToken = tokenOf('watchToken', entered.watchToken) ?? kept?.watchToken ?? '';
  if (watchToken === '') {
    throw new Problem(
      'bad-setting',
      before === null ? 'The token is missing.' : 'The address has changed, so the token is needed again.',
      'On that line: Set-up → Devices → Add a token, with the right to watch.',
      { pointer: '/watchToken' },
    );
  }
  return { id, address, watchToken, actToken: tokenOf('actToken', entered.actToken) ?? kept?.actToken ?? '' };
}

/** @throws Problem, TypeError or SyntaxError if they are not as they were saved */
export function readOtherLines(json: string): StoredLines {
  const stored = JSON.parse(json) as StoredLines | OtherLine[];
  // Older versions kept the lines alone.
  const lines = (Array.isArray(stored) ? stored : stored.lines).map((line) => checkedLine(line, null, line.id));
  const lastId = Math.max(Array.isArray(stored) ? 0 : stored.lastId, ...lines.map(({ id }) => id));
  if (!Number.isSafeInteger(lastId)) throw new TypeError('A line has no number.');
  return { lastId, lines };
}

function addressOf(text: string): string {
  const entered = text.trim();
  const url = parsed(entered);
  if (url === null || !/^https?:$/.test(url.protocol) || url.username !== '' || !/^\/?$/.test(url.pathname)) {
    throw new Problem(
      'bad-setting',
      `“${entered}” is not the address of a line.`,
      'Give the address of its page, such as http://192.0.2.7:8751.',
      { pointer: '/address' },
    );
  }
  return url.origin;
}

function parsed(text: string): URL | null {
  try {
    return new URL(text);
  } catch {
    return null;
  }
}

function tokenOf(field: string, text: string | undefined): string | undefined {
  const token = text?.trim();
  // A header takes nothing else.
  if (token === undefined || /^[\x21-\x7e]*$/.test(token)) return token;
  throw new Problem('bad-setting', 'A token contains no spaces or special characters.', 'Copy it again.', {
    pointer: `/${field}`,
  });
}
