import { isIP } from 'node:net';
import type { HouseAuthority } from './house-authority.ts';
import { isHouseName, namesOfThisMachine } from './house-names.ts';
import type { CertificateParts, KeyAndCertificate, ServerCertificate } from './server-certificate.ts';

const DAY_MS = 86_400_000;
const VALID_MS = 90 * DAY_MS;
const RENEW_BEFORE_MS = 30 * DAY_MS;
/** A phone's clock may be slow. */
const BACKDATED_MS = DAY_MS;
const LOOK_EVERY_MS = 60_000;

interface Options extends CertificateParts {
  readonly authority: HouseAuthority;
  /** Names that users have stated, beside those of the machine. */
  statedNames(): readonly string[];
}

/**
 * A certificate of the house's authority for this machine: issued at each start, and again before it expires, when the
 * machine gets another address, and when its clock is set.
 */
export class HouseCertificate implements ServerCertificate {
  readonly #options: Options;
  readonly #listeners = new Set<(successor: KeyAndCertificate) => void>();
  readonly #refused = new Set<string>();
  readonly #timer: NodeJS.Timeout;
  #names: ReadonlySet<string> = new Set();
  #issuedMs = Number.NaN;
  #current: KeyAndCertificate;

  constructor(options: Options) {
    this.#options = options;
    this.#current = this.#issue(this.#wanted());
    this.#timer = setInterval(() => this.renewIfNeeded(), LOOK_EVERY_MS);
    this.#timer.unref();
  }

  get authority(): HouseAuthority {
    return this.#options.authority;
  }

  current(): KeyAndCertificate {
    return this.#current;
  }

  onChange(listener: (successor: KeyAndCertificate) => void): void {
    this.#listeners.add(listener);
  }

  stop(): void {
    clearInterval(this.#timer);
  }

  renewIfNeeded(): void {
    const wanted = this.#wanted();
    const ageMs = this.#options.clock() - this.#issuedMs;
    const fits = ageMs >= -BACKDATED_MS && ageMs <= VALID_MS - RENEW_BEFORE_MS;
    if (fits && wanted.every((name) => this.#names.has(name))) return;
    this.#current = this.#issue(wanted);
    for (const listener of this.#listeners) listener(this.#current);
    this.#options.info('A new certificate is in use', { names: wanted });
  }

  #issue(names: readonly string[]): KeyAndCertificate {
    this.#names = new Set(names);
    this.#issuedMs = this.#options.clock();
    const fromMs = this.#issuedMs - BACKDATED_MS;
    return this.#options.authority.issue(names, fromMs, this.#issuedMs + VALID_MS);
  }

  #wanted(): readonly string[] {
    const names = [...new Set([...namesOfThisMachine(), ...this.#options.statedNames()])];
    for (const name of names) {
      // Many machines also have a public IPv6 address, which no one types.
      if (isHouseName(name) || isIP(name) === 6 || this.#refused.has(name)) continue;
      this.#refused.add(name);
      this.#options.warn(
        'The authority of the house vouches for private names and addresses only: browsers will warn about this one. Open the page under another name, or use certificate files',
        { name },
      );
    }
    return names.filter(isHouseName);
  }
}
