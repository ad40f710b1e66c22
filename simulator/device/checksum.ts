/** The checksum of IEC 61162-1 (NMEA 0183): XOR of all bytes, as two upper-case hex digits. */

const HEX = Array.from({ length: 256 }, (_, i) => i.toString(16).toUpperCase().padStart(2, '0'));

/** XOR of a text's bytes; a text's sum is the XOR of its pieces' sums. @param text one character a byte (latin1) */
export function xorOf(text: string): number {
  let sum = 0;
  for (let i = 0; i < text.length; i++) sum ^= text.charCodeAt(i);
  return sum & 0xff;
}

export function checksumText(sum: number): string {
  return HEX[sum]!;
}
