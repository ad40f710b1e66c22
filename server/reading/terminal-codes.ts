const ESCAPE = 27;
const OPEN_BRACKET = 91;

/**
 * Remove the control sequences that colour text on a terminal or move its cursor: ESC, `[`, parameters, a final letter
 * (ECMA-48). A sketch that prints for people may have them, and a garbled line hardly ever has a whole one.
 * @param into receives the rest
 * @returns its length; -1 = there is no such sequence, or an incomplete one
 */
export function withoutTerminalCodes(bytes: Uint8Array, start: number, end: number, into: Uint8Array): number {
  let length = 0;
  let found = false;
  for (let at = start; at < end; at++) {
    const byte = bytes[at]!;
    if (byte !== ESCAPE) {
      into[length++] = byte;
      continue;
    }
    if (bytes[at + 1] !== OPEN_BRACKET) return -1;
    at += 2;
    // Parameters and intermediate bytes are 0x20–0x3F, the final byte is 0x40–0x7E.
    while (at < end && bytes[at]! >= 0x20 && bytes[at]! < 0x40) at++;
    if (at >= end || bytes[at]! < 0x40 || bytes[at]! > 0x7e) return -1;
    found = true;
  }
  return found ? length : -1;
}
