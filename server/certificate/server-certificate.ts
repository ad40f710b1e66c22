/** What a server shows to browsers, and the key that proves it, both as PEM. */
export interface KeyAndCertificate {
  readonly key: string;
  /** The server's own certificate first, then those that lead to its authority. */
  readonly cert: string;
}

/** The authority of the house, as devices install it. */
export interface AuthorityCertificate {
  readonly pem: string;
  /** SHA-256 as systems show it, `AB:CD:…`: with it users recognise the certificate. */
  readonly fingerprint: string;
}

/** What every source of certificates needs. */
export interface CertificateParts {
  /** UTC, ms, as the system says: it may be set while the service runs. */
  readonly clock: () => number;
  info(message: string, facts: Readonly<Record<string, unknown>>): void;
  warn(message: string, facts: Readonly<Record<string, unknown>>): void;
}

/** Where the certificate of the service comes from, and its successors while the service runs. */
export interface ServerCertificate {
  current(): KeyAndCertificate;
  /** Calls the listener with each successor. */
  onChange(listener: (successor: KeyAndCertificate) => void): void;
  /** null = made elsewhere, so there is nothing to install. */
  readonly authority: AuthorityCertificate | null;
  /** Ends the watch for successors. */
  stop(): void;
}
