/** Bytes as text, with a middle dot for each that is not printable ASCII. */
export function asciiText(bytes: Uint8Array, start: number, end: number): string {
  let text = '';
  for (const byte of bytes.subarray(start, end)) {
    text += byte === 9 || (byte >= 32 && byte <= 126) ? String.fromCharCode(byte) : '·';
  }
  return text;
}

const utf8 = new TextDecoder('utf-8', { fatal: true });
const latin1 = new TextDecoder('latin1');

/** Text as UTF-8, else as Latin-1. Nearly all is ASCII, and a decoder takes longer to call than these few bytes to read. */
export function decoded(bytes: Uint8Array, start: number, end: number): string {
  let text = '';
  for (let at = start; at < end; at++) {
    if (bytes[at]! >= 128) return decodedBeyondAscii(bytes, start, end);
    text += String.fromCharCode(bytes[at]!);
  }
  return text;
}

function decodedBeyondAscii(bytes: Uint8Array, start: number, end: number): string {
  const part = bytes.subarray(start, end);
  try {
    return utf8.decode(part);
  } catch {
    // No UTF-8: a sketch that was written in an older editor.
    return latin1.decode(part);
  }
}

/** A name as text. Names beyond ASCII are those of columns and of free text; nearly all are ASCII. */
export function nameText(bytes: Uint8Array, start: number, end: number): string {
  for (let at = start; at < end; at++) if (bytes[at]! >= 128) return printable(bytes, start, end);
  return asciiText(bytes, start, end);
}

/** Text in UTF-8 or Latin-1, with a middle dot for each control byte. */
export function printable(bytes: Uint8Array, start: number, end: number): string {
  return decoded(bytes, start, end).replaceAll(/[\p{Cc}\ufffd]/gu, (character) =>
    character === '\t' ? character : '·',
  );
}

export function isBlank(bytes: Uint8Array, start: number, end: number): boolean {
  for (let at = start; at < end; at++) if (bytes[at] !== 32 && bytes[at] !== 9) return false;
  return true;
}
