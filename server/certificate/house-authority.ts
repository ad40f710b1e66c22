import { createPrivateKey, generateKeyPairSync, type KeyObject, randomUUID, X509Certificate } from 'node:crypto';
import { chmodSync, linkSync, mkdirSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { isIP } from 'node:net';
import { join } from 'node:path';
import { messageOf, Problem } from '../problem/problem.ts';
import { HOUSE_NAMES } from './house-names.ts';
import { authorityCertificate, serverCertificate } from './make-certificate.ts';
import type { AuthorityCertificate, KeyAndCertificate } from './server-certificate.ts';

/** Key and certificate are in one file, so that they always belong together. */
const FILE = 'house-authority.pem';
/** A small machine may not know the date at its first start, so the time does not depend on it. */
const FROM_MS = Date.UTC(2025, 0, 1);
const UNTIL_MS = Date.UTC(2055, 0, 1);

/** Vouches for the services of one house. Devices that have installed its certificate trust them all. */
export class HouseAuthority implements AuthorityCertificate {
  readonly pem: string;
  readonly fingerprint: string;
  readonly #key: KeyObject;
  readonly #name: string;

  private constructor(key: KeyObject, certificate: X509Certificate) {
    this.#key = key;
    this.pem = certificate.toString();
    this.fingerprint = certificate.fingerprint256;
    this.#name = certificate.subject.replace(/^CN=/, '');
  }

  /**
   * Opens the authority in a folder, and makes it if there is none.
   * @throws Problem `bad-setting`
   */
  static in(folder: string): HouseAuthority {
    const path = join(folder, FILE);
    try {
      mkdirSync(folder, { recursive: true, mode: 0o700 });
      make(path);
      if ((statSync(path).mode & 0o077) !== 0) chmodSync(path, 0o600);
      const text = readFileSync(path, 'utf8');
      const key = createPrivateKey(text);
      const certificate = new X509Certificate(text);
      if (!certificate.ca || !certificate.checkPrivateKey(key))
        throw new Error('its key and its certificate are not those of an authority');
      return new HouseAuthority(key, certificate);
    } catch (thrown) {
      throw new Problem(
        'bad-setting',
        `The authority of the house in ${path} cannot be used: ${messageOf(thrown)}.`,
        'It must be readable by the service’s user only. Restore the file from a copy, or move it away: then a new authority is made, whose certificate has to be installed on every device.',
        { cause: thrown },
      );
    }
  }

  /** A new key, and a certificate for these names. */
  issue(names: readonly string[], fromMs: number, untilMs: number): KeyAndCertificate {
    const { privateKey, publicKey } = generateKeyPairSync('ec', { namedCurve: 'P-256' });
    const ip = names.filter((name) => isIP(name) !== 0);
    const dns = names.filter((name) => isIP(name) === 0);
    const about = { subject: 'Strandward', issuer: this.#name, names: { dns, ip }, fromMs, untilMs };
    const cert = serverCertificate(about, publicKey, this.#key);
    return { key: privateKey.export({ type: 'pkcs8', format: 'pem' }).toString(), cert };
  }
}

/** Makes the file unless there is one. Of two services that start at once, the second uses the file of the first. */
function make(path: string): void {
  if (statSync(path, { throwIfNoEntry: false }) !== undefined) return;
  const { privateKey } = generateKeyPairSync('ec', { namedCurve: 'P-256' });
  // Devices list it by name: another house's, or a later one, must look different.
  const subject = `Strandward house ${randomUUID().slice(0, 4).toUpperCase()}`;
  const cert = authorityCertificate(
    { subject, fromMs: FROM_MS, untilMs: UNTIL_MS, permitted: HOUSE_NAMES },
    privateKey,
  );
  const unfinished = `${path}.${randomUUID()}`;
  try {
    const key = privateKey.export({ type: 'pkcs8', format: 'pem' });
    writeFileSync(unfinished, `${key}${cert}`, { mode: 0o600, flush: true });
    linkSync(unfinished, path);
  } catch (thrown) {
    if ((thrown as NodeJS.ErrnoException).code !== 'EEXIST') throw thrown;
  } finally {
    rmSync(unfinished, { force: true });
  }
}
