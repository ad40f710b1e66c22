import { createHash, randomBytes } from 'node:crypto';

/** Long enough to begin what it was asked for, too short to be found in a history or a log and used. */
const VALID_MS = 30_000;
const TICKETS_MAX = 1000;

/**
 * Lets a browser in where it cannot send a header: a link that downloads, a WebSocket. A ticket is given to whoever has
 * the access key, opens one path once, and is worthless soon after, so that an address that is kept somewhere tells nobody the key.
 */
export class Tickets {
  readonly #clock: () => number;
  /** By digest, so that no time of an answer tells how much of a guess was right. */
  readonly #open = new Map<string, { readonly path: string; readonly untilMs: number }>();

  /** @param clock ms; any origin, never stepping back */
  constructor(clock: () => number) {
    this.#clock = clock;
  }

  /** @param path without its query, such as /live */
  issue(path: string): { readonly ticket: string; readonly validMs: number } {
    const nowMs = this.#clock();
    for (const [digest, { untilMs }] of this.#open) {
      if (untilMs > nowMs && this.#open.size < TICKETS_MAX) break;
      this.#open.delete(digest);
    }
    const ticket = randomBytes(24).toString('base64url');
    this.#open.set(digestOf(ticket), { path, untilMs: nowMs + VALID_MS });
    return { ticket, validMs: VALID_MS };
  }

  /** True once for each ticket, if it was given for this path and not too long ago. */
  redeem(ticket: string, path: string): boolean {
    const digest = digestOf(ticket);
    const found = this.#open.get(digest);
    if (found === undefined) return false;
    this.#open.delete(digest);
    return found.path === path && found.untilMs > this.#clock();
  }
}

const digestOf = (ticket: string) => createHash('sha256').update(ticket).digest('base64');
