import { timingSafeEqual } from 'node:crypto';
import {
  CREDENTIAL_NAME_MAX,
  type Credential,
  type CredentialKind,
  RIGHT_VERBS,
  type Right,
} from '../entities/device.ts';
import { messageOf, Problem } from '../problem/problem.ts';
import type { IdentityStore, StoredCredential } from './identity-store.ts';
import { type Invitation, Invitations } from './invitations.ts';
import { digestOf, newSecret } from './secret.ts';

/** Often enough to show when a device was last used, rarely enough to spare an SD card. */
const SEEN_EVERY_MS = 60_000;

export interface IdentityParts {
  readonly store: IdentityStore;
  /** UTC, ms. */
  readonly clock: () => number;
  /** ms; any origin, never stepping back. */
  readonly steadyClock: () => number;
  /** A manage key from the environment; null = none. */
  readonly accessKey: string | null;
  /** Writes to the log of what users did. */
  record(who: string, what: string): void;
  warn(message: string, facts: Readonly<Record<string, unknown>>): void;
}

/** What breaks a line or turns the direction of text, so that a name is not shown as it is stored. */
const UNUSABLE = /[\p{Cc}\p{Cs}\p{Zl}\p{Zp}\p{Bidi_Control}]/u;

/** The same for names that differ only in capitals, width, ligatures, or characters that are not shown. */
const lookOf = (name: string) =>
  name
    .normalize('NFKC')
    .replace(/\p{Default_Ignorable_Code_Point}/gu, '')
    .trim()
    .toLowerCase();

/** A new device or token, with the secret that only its owner gets to see. */
export interface Issued {
  readonly credential: Credential;
  readonly secret: string;
}

/**
 * @param id of a device or token that was removed or whose right was changed
 * @param held its right now; null = it was removed
 * @param successorId of the same browser, which was paired again; null = none
 */
export type CredentialListener = (id: number, held: Right | null, successorId: number | null) => void;

/** Who may use the service: paired devices, tokens of programs, and the access key. */
export class IdentityService {
  readonly #parts: IdentityParts;
  readonly #invitations: Invitations;
  readonly #keyDigest: Buffer | null;
  readonly #changeListeners = new Set<CredentialListener>();
  #credentials: readonly StoredCredential[] = [];

  constructor(parts: IdentityParts) {
    this.#parts = parts;
    this.#invitations = new Invitations(parts.steadyClock);
    this.#keyDigest = parts.accessKey === null ? null : digestOf(parts.accessKey);
  }

  /** Reads the record. */
  open(): void {
    this.#credentials = this.#parts.store.credentials();
    const replace = 'Pairing replaces it: add devices on the Set-up page, then start without the key.';
    if (this.hasAccessKey) this.#parts.warn(`An access key is set. ${replace}`, {});
  }

  get hasAccessKey(): boolean {
    return this.#keyDigest !== null;
  }

  /** Devices or tokens that are not revoked, oldest first. */
  list(kind: CredentialKind): readonly Credential[] {
    return this.#credentials.filter((one) => one.kind === kind);
  }

  /** The owner of a secret; null = unknown or revoked. */
  find(kind: CredentialKind, secret: string): Credential | null {
    const digest = digestOf(secret);
    return this.#credentials.find((one) => one.kind === kind && timingSafeEqual(one.digest, digest)) ?? null;
  }

  isAccessKey(text: string): boolean {
    return this.#keyDigest !== null && timingSafeEqual(digestOf(text), this.#keyDigest);
  }

  /** Notes that a device or token was used. True about once a minute: then its cookie is renewed too. */
  seen({ id }: Credential): boolean {
    const nowMs = this.#parts.clock();
    const found = this.#credentials.find((one) => one.id === id);
    // Also due when the clock has been set back.
    if (found === undefined || Math.abs(nowMs - (found.lastSeenMs ?? Number.NEGATIVE_INFINITY)) < SEEN_EVERY_MS)
      return false;
    this.#replace({ ...found, lastSeenMs: nowMs });
    try {
      this.#parts.store.credentialSeen(id, nowMs);
    } catch (thrown) {
      // A full disk must not keep anyone from watching.
      this.#parts.warn('The last use of a device cannot be stored', { why: messageOf(thrown) });
    }
    return true;
  }

  invite(right: Right, by: string): Invitation {
    const invitation = this.#invitations.issue(right, by);
    this.#parts.record(by, `Invited a device with the right to ${RIGHT_VERBS[right]}.`);
    return invitation;
  }

  /**
   * Pairs a device with a code. The code stays valid if the name is refused.
   * @param secretBefore of the same browser, which is paired again; null = none
   * @returns null = the code is wrong, used or expired
   * @throws Problem `bad-name`
   */
  pairWithCode(code: string, name: string, secretBefore: string | null): Issued | null {
    const invitation = this.#invitations.find(code);
    if (invitation === null) return null;
    const issued = this.#pair(name, invitation.right, invitation.by, secretBefore);
    this.#invitations.use(code);
    return issued;
  }

  /**
   * Pairs a device with the access key.
   * @param secretBefore as above
   * @returns null = the key is wrong, or there is none
   * @throws Problem `bad-name`
   */
  pairWithKey(key: string, name: string, secretBefore: string | null): Issued | null {
    return this.isAccessKey(key) ? this.#pair(name, 'manage', 'the access key', secretBefore) : null;
  }

  /** @throws Problem `bad-name` */
  addToken(name: string, right: Right, by: string): Issued {
    return this.#issue('token', name, right, by);
  }

  /** Takes effect at once, also on open connections. @throws Problem `unknown-device` */
  revoke(kind: CredentialKind, id: number, by: string, successorId: number | null = null): void {
    const found = this.#known(kind, id);
    this.#parts.store.revokeCredential(id, this.#parts.clock());
    this.#credentials = this.#credentials.filter((one) => one.id !== id);
    for (const changed of this.#changeListeners) changed(id, null, successorId);
    this.#parts.record(by, `Removed the ${kind} “${found.name}”.`);
  }

  /** Takes effect at once, also on open connections. @throws Problem `unknown-device` */
  changeRight(kind: CredentialKind, id: number, right: Right, by: string): Credential {
    const found = this.#known(kind, id);
    if (found.right === right) return found;
    this.#parts.store.changeRight(id, right);
    const changed = { ...found, right };
    this.#replace(changed);
    for (const listener of this.#changeListeners) listener(id, right, null);
    this.#parts.record(
      by,
      `Changed the right of the ${kind} “${found.name}” from “${RIGHT_VERBS[found.right]}” to “${RIGHT_VERBS[right]}”.`,
    );
    return changed;
  }

  /** @returns the function that unsubscribes */
  onChange(listener: CredentialListener): () => void {
    this.#changeListeners.add(listener);
    return () => this.#changeListeners.delete(listener);
  }

  /** A browser that is paired again keeps one session only. */
  #pair(name: string, right: Right, by: string, secretBefore: string | null): Issued {
    const before = secretBefore === null ? null : this.find('device', secretBefore);
    const issued = this.#issue('device', name, right, by, before);
    if (before !== null) this.revoke('device', before.id, by, issued.credential.id);
    return issued;
  }

  #issue(kind: CredentialKind, wantedName: string, right: Right, by: string, before: Credential | null = null): Issued {
    const name = this.#checkedName(wantedName, before);
    const secret = newSecret();
    const added = this.#parts.store.addCredential({
      kind,
      name,
      right,
      createdMs: this.#parts.clock(),
      createdBy: by,
      lastSeenMs: null,
      digest: digestOf(secret),
    });
    this.#credentials = [...this.#credentials, added];
    const what = kind === 'device' ? 'Paired the device' : 'Added the token';
    this.#parts.record(by, `${what} “${name}” with the right to ${RIGHT_VERBS[right]}.`);
    return { credential: added, secret };
  }

  #checkedName(wanted: string, before: Credential | null): string {
    const name = wanted.trim();
    const refuse = (what: string, remedy: string) => new Problem('bad-name', what, remedy, { pointer: '/name' });
    const look = lookOf(name);
    if (look === '') throw refuse('The name is empty.', 'Give it one, such as “kitchen phone”.');
    if (name.length > CREDENTIAL_NAME_MAX || UNUSABLE.test(name))
      throw refuse('This name cannot be used.', `Use up to ${CREDENTIAL_NAME_MAX} ordinary characters.`);
    // The journal names devices, so no two may look the same.
    if (this.#credentials.some((one) => one.id !== before?.id && lookOf(one.name) === look))
      throw refuse(`The name “${name}” is already used.`, 'Give it another name, such as “kitchen phone”.');
    return name;
  }

  #known(kind: CredentialKind, id: number): StoredCredential {
    const found = this.#credentials.find((one) => one.kind === kind && one.id === id);
    if (found === undefined)
      throw new Problem('unknown-device', `There is no ${kind} ${id}.`, 'Load the devices and tokens again.');
    return found;
  }

  #replace(changed: StoredCredential): void {
    this.#credentials = this.#credentials.map((one) => (one.id === changed.id ? changed : one));
  }
}
