/** First bytes of other kinds of files, in hexadecimal, from the specifications of the formats. */
const MARKS: readonly (readonly [mark: RegExp, kind: string])[] = [
  [/^ffd8ff/, 'a photo (JPEG)'],
  [/^89504e47/, 'a picture (PNG)'],
  [/^47494638/, 'a picture (GIF)'],
  [/^.{8}66747970/, 'a film or a photo (MP4 or HEIC)'],
  [/^52494646/, 'a sound, a film or a picture (RIFF)'],
  [/^25504446/, 'a PDF document'],
  [/^504b0304/, 'a spreadsheet, a document or a zip archive'],
  [/^d0cf11e0/, 'an old office document'],
  [/^1f8b/, 'a compressed file (gzip)'],
  [/^53514c69746520666f726d6174/, 'a database'],
  [/^50415231/, 'a Parquet file'],
  [/^7f454c46/, 'a program'],
  [/^(fffe|feff)/, 'text in UTF-16'],
];
const INSPECTED_BYTES = 4096;
/** Text contains hardly any control characters besides tab and line ends. */
const CONTROL_SHARE_MAX = 0.05;

/** What kind of file this is, by its first bytes; null = it may be text. */
export function kindOfFile(head: Uint8Array): string | null {
  const inspected = head.subarray(0, INSPECTED_BYTES);
  const hex = Array.from(inspected.subarray(0, 16), (byte) => byte.toString(16).padStart(2, '0')).join('');
  for (const [mark, kind] of MARKS) if (mark.test(hex)) return kind;
  let control = 0;
  for (const byte of inspected) if (byte < 32 && byte !== 9 && byte !== 10 && byte !== 13) control++;
  return control > inspected.length * CONTROL_SHARE_MAX ? 'not a text file' : null;
}
