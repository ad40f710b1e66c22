import { promisify } from 'node:util';
import { gzip } from 'node:zlib';
import type { WindowBytes, WindowColumns } from './samples.ts';

const gzipped = promisify(gzip);

/** The media type with which a page requests a window as arrays of numbers. */
export const WINDOW_TYPE = 'application/vnd.strandward.window';

/** The head describes the arrays that follow. */
export interface WindowHead {
  readonly axis: WindowColumns['axis'];
  readonly from: number;
  readonly to: number;
  /** Entries in each array. */
  readonly columns: number;
  readonly signals: readonly string[];
  /** The arrays of each signal, in order: 'min', 'max', 'mean', and 'sd' if it was requested. */
  readonly fields: readonly WindowField[];
}
type WindowField = 'min' | 'max' | 'mean' | 'sd';

/**
 * A window as bytes, all little-endian:
 *
 *   4 bytes   'SWW1'
 *   u32       length of the head in bytes, a multiple of 8
 *   head      JSON in UTF-8 (`WindowHead`), padded with spaces
 *   f64[]     count, timeMs, gaugeMm: `columns` entries each
 *   f64[]     for each signal of the head, for each field of the head: `columns` entries
 *
 * `timeMs` and `gaugeMm` are those of the first reading of a column, where the column really starts (`WindowColumns`).
 * NaN = no value. The head ends at a multiple of 8, so that the arrays can be viewed in place.
 */
function windowBytes(window: WindowColumns): Uint8Array {
  const signals = Object.keys(window.signals);
  const withSpread = Object.values(window.signals).some(({ sd }) => sd !== undefined);
  const fields: WindowField[] = withSpread ? ['min', 'max', 'mean', 'sd'] : ['min', 'max', 'mean'];
  const columns = window.count.length;
  const head: WindowHead = { axis: window.axis, from: window.from, to: window.to, columns, signals, fields };
  const text = new TextEncoder().encode(JSON.stringify(head));
  const headLength = Math.ceil(text.length / 8) * 8;
  const bytes = new Uint8Array(8 + headLength + 8 * columns * (3 + signals.length * fields.length));
  const view = new DataView(bytes.buffer);
  bytes.set([0x53, 0x57, 0x57, 0x31]);
  view.setUint32(4, headLength, true);
  bytes.fill(32, 8, 8 + headLength);
  bytes.set(text, 8);
  let at = 8 + headLength;
  const put = (values: readonly (number | null)[] | undefined): void => {
    for (let i = 0; i < columns; i++, at += 8) view.setFloat64(at, values?.[i] ?? Number.NaN, true);
  };
  put(window.count);
  put(window.timeMs);
  put(window.gaugeMm);
  for (const signal of Object.values(window.signals)) for (const field of fields) put(signal[field]);
  return bytes;
}

/** A window as bytes. @param pack gzip them if that helps: readings shrink to half or less, pure noise does not */
export async function packedWindow(window: WindowColumns, pack: boolean): Promise<WindowBytes> {
  const bytes = windowBytes(window);
  if (!pack) return { bytes, gzipped: false };
  const packed = await gzipped(bytes, { level: 1 });
  if (packed.length > bytes.length * 0.9) return { bytes, gzipped: false };
  // Copied into a separate buffer, because it may be transferred to another thread.
  return { bytes: new Uint8Array(packed), gzipped: true };
}
