import { createHash, randomBytes } from 'node:crypto';

/** Long enough to start the download, too short to be misused by someone who finds it in a history or a log. */
const VALID_MS = 30_000;
const TICKETS_MAX = 1000;

/**
 * Replaces the access key where a browser cannot send a header: for a download link or a WebSocket. A ticket is issued to
 * a caller with the key, is valid once for one path and expires soon, so that a stored address never reveals the key.
 */
export class Tickets {
  readonly #clock: () => number;
  /** By digest, so that the response time does not reveal how much of a guess was right. */
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

  /** True once for each ticket, if it was issued for this path and has not expired. */
  redeem(ticket: string, path: string): boolean {
    const digest = digestOf(ticket);
    const found = this.#open.get(digest);
    if (found === undefined) return false;
    this.#open.delete(digest);
    return found.path === path && found.untilMs > this.#clock();
  }
}

const digestOf = (ticket: string) => createHash('sha256').update(ticket).digest('base64');
