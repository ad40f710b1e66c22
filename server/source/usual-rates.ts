/** Baud rates that sketches use, the most usual first. */
export const USUAL_RATES: readonly number[] = [
  115_200, 9600, 57_600, 38_400, 19_200, 230_400, 250_000, 500_000, 1_000_000,
];

/** A sample shorter than this, in bytes, says nothing. */
const BYTES_MIN = 24;
const TEXT_SHARE_MIN = 0.95;

/**
 * Whether bytes are text with line ends and digits, as a sketch prints it. At a wrong rate they are not: about half of
 * them are control bytes or beyond ASCII.
 */
export function isSketchText(bytes: Uint8Array): boolean {
  if (bytes.length < BYTES_MIN) return false;
  let text = 0;
  let digits = 0;
  let lineEnds = 0;
  for (const byte of bytes) {
    if ((byte >= 32 && byte < 127) || byte === 9 || byte === 10 || byte === 13) text++;
    if (byte >= 48 && byte <= 57) digits++;
    if (byte === 10) lineEnds++;
  }
  return text >= TEXT_SHARE_MIN * bytes.length && lineEnds > 0 && digits > 0.1 * bytes.length;
}
