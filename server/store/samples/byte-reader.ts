/** Reads what `ByteWriter` wrote. */
export class ByteReader {
  readonly bytes: Uint8Array;
  readonly view: DataView;
  at: number;

  constructor(bytes: Uint8Array, at = 0) {
    this.bytes = bytes;
    this.view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
    this.at = at;
  }

  u8(): number {
    return this.bytes[this.at++]!;
  }

  u32(): number {
    const value = this.view.getUint32(this.at, true);
    this.at += 4;
    return value;
  }

  f64(): number {
    const value = this.view.getFloat64(this.at, true);
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
