/** Reads what `ByteWriter` wrote. */
export class ByteReader {
  readonly bytes: Uint8Array;
  at: number;

  constructor(bytes: Uint8Array, at = 0) {
    this.bytes = bytes;
    this.at = at;
  }

  u8(): number {
    return this.bytes[this.at++]!;
  }

  f64(): number {
    const b = this.bytes;
    const value = new DataView(b.buffer, b.byteOffset + this.at, 8).getFloat64(0, true);
    this.at += 8;
    return value;
  }

  varint(): number {
    const b = this.bytes;
    let byte = b[this.at++]!;
    if (byte < 128) return byte;
    let value = byte & 127;
    let weight = 128;
    do {
      byte = b[this.at++]!;
      value += (byte & 127) * weight;
      weight *= 128;
    } while (byte > 127);
    return value;
  }

  signed(): number {
    const mapped = this.varint();
    return mapped % 2 === 0 ? mapped / 2 : -(mapped + 1) / 2;
  }
}
