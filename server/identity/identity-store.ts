import type { Credential, Right } from '../entities/device.ts';

export interface StoredCredential extends Credential {
  /** SHA-256 of the secret; the secret itself is stored nowhere. */
  readonly digest: Buffer;
}

/** Stores devices and tokens. Every call is durable when it returns, or throws. */
export interface IdentityStore {
  /** Those that are not revoked, oldest first. */
  credentials(): readonly StoredCredential[];
  addCredential(credential: Omit<StoredCredential, 'id'>): StoredCredential;
  credentialSeen(id: number, atMs: number): void;
  changeRight(id: number, right: Right): void;
  revokeCredential(id: number, atMs: number): void;
}
