import { createDecipheriv, createECDH, createHmac, type ECDH, randomBytes } from 'node:crypto';

/** The browser's side of a push subscription, written from RFC 8291 and RFC 8188 alone. It decrypts what is sent. */
export class PushReceiver {
  readonly #ecdh: ECDH;
  readonly #auth: Buffer;

  constructor(privateKey?: Buffer, auth: Buffer = randomBytes(16)) {
    this.#ecdh = createECDH('prime256v1');
    if (privateKey === undefined) this.#ecdh.generateKeys();
    else this.#ecdh.setPrivateKey(privateKey);
    this.#auth = auth;
  }

  /** The keys as in `PushSubscription.toJSON()`. */
  get keys(): { readonly p256dh: string; readonly auth: string } {
    return { p256dh: this.#ecdh.getPublicKey('base64url'), auth: this.#auth.toString('base64url') };
  }

  /** One record of content coding aes128gcm (RFC 8188, section 2), with the keys of RFC 8291, section 3.4. */
  decrypt(body: Buffer): Buffer {
    const salt = body.subarray(0, 16);
    const idLength = body[20]!;
    const senderKey = body.subarray(21, 21 + idLength);
    const record = body.subarray(21 + idLength);
    const secret = this.#ecdh.computeSecret(senderKey);
    const keyInfo = Buffer.concat([Buffer.from('WebPush: info\0'), this.#ecdh.getPublicKey(), senderKey]);
    const ikm = hkdf(this.#auth, secret, keyInfo, 32);
    const key = hkdf(salt, ikm, Buffer.from('Content-Encoding: aes128gcm\0'), 16);
    const nonce = hkdf(salt, ikm, Buffer.from('Content-Encoding: nonce\0'), 12);
    const decipher = createDecipheriv('aes-128-gcm', key, nonce);
    decipher.setAuthTag(record.subarray(-16));
    const padded = Buffer.concat([decipher.update(record.subarray(0, -16)), decipher.final()]);
    // The last record ends in a delimiter 2 and zeros.
    const end = padded.lastIndexOf(2);
    return padded.subarray(0, end);
  }
}

/** RFC 5869 for up to one block. */
function hkdf(salt: Buffer, ikm: Buffer, info: Buffer, bytes: number): Buffer {
  const prk = createHmac('sha256', salt).update(ikm).digest();
  return createHmac('sha256', prk)
    .update(Buffer.concat([info, Buffer.from([1])]))
    .digest()
    .subarray(0, bytes);
}
