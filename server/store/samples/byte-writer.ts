/** A growing byte buffer that is reused, so that nothing is allocated in the steady state. */
export class ByteWriter {
  bytes = new Uint8Array(65536);
  at = 0;
  #view = new DataView(this.bytes.buffer);

  reset(): void {
    this.at = 0;
  }

  /** Makes space for n more bytes. */
  reserve(n: number): void {
    if (this.at + n <= this.bytes.length) return;
    const grown = new Uint8Array(Math.max(this.bytes.length * 2, this.at + n));
    grown.set(this.bytes.subarray(0, this.at));
    this.bytes = grown;
    this.#view = new DataView(grown.buffer);
  }

  u8(value: number): void {
    this.reserve(1);
    this.bytes[this.at++] = value;
  }

  u32(value: number): void {
    this.reserve(4);
    this.#view.setUint32(this.at, value, true);
    this.at += 4;
  }

  f64(value: number): void {
    this.reserve(8);
    this.#view.setFloat64(this.at, value, true);
    this.at += 8;
  }

  /** An integer 0…2^53 − 1, seven bits a byte, lowest first (LEB128). */
  varint(value: number): void {
    this.reserve(8);
    let high = value;
    while (high > 0x7fffffff) {
      this.bytes[this.at++] = (high % 128) | 128;
      high = Math.floor(high / 128);
    }
    while (high > 127) {
      this.bytes[this.at++] = (high & 127) | 128;
      high >>>= 7;
    }
    this.bytes[this.at++] = high;
  }

  /** An integer of magnitude < 2^52, small magnitudes short (zig-zag). */
  signed(value: number): void {
    this.varint(value >= 0 ? value * 2 : -value * 2 - 1);
  }

  raw(bytes: Uint8Array): void {
    this.reserve(bytes.length);
    this.bytes.set(bytes, this.at);
    this.at += bytes.length;
  }

  /** A copy of what was written. */
  take(): Uint8Array {
    return this.bytes.slice(0, this.at);
  }
}
