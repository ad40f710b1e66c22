import { createHash, randomBytes } from 'node:crypto';

const SECRET_BYTES = 32;
const CODE_BYTES = 16;

/** The secret of a device or a token: 256 random bits. */
export const newSecret = (): string => randomBytes(SECRET_BYTES).toString('base64url');

/** The code of an invitation: 128 random bits, short enough for a QR code that a phone reads from a screen. */
export const newCode = (): string => randomBytes(CODE_BYTES).toString('base64url');

/** Digests are compared instead of secrets, so that the time taken reveals neither length nor content. */
export const digestOf = (secret: string): Buffer => createHash('sha256').update(secret).digest();
