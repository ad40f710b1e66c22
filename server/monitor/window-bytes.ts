import { promisify } from 'node:util';
import { gzip } from 'node:zlib';
import type { WindowBytes, WindowColumns } from './ports/samples.ts';

const gzipped = promisify(gzip);

/** The media type that a page asks for to get a window as arrays of numbers. */
export const WINDOW_TYPE = 'application/vnd.strandward.window';

/** The head of the bytes: which arrays follow, in order. */
export interface WindowHead {
  readonly axis: WindowColumns['axis'];
  readonly from: number;
  readonly to: number;
  /** Entries in each array. */
  readonly columns: number;
  readonly signals: readonly string[];
  /** The arrays of each signal, in order: 'min', 'max', 'mean', and 'sd' if requested. */
  readonly fields: readonly WindowField[];
}
type WindowField = 'min' | 'max' | 'mean' | 'sd';

/**
 * A window as bytes, all little-endian:
 *
 *   4 bytes   'SWW1'
 *   u32       length of the head in bytes, a multiple of 8
 *   head      JSON in UTF-8 (`WindowHead`), filled up with blanks
 *   f64[]     count, timeMs, gaugeMm: `columns` entries each
 *   f64[]     for each signal of the head, for each field of the head: `columns` entries
 *
 * `timeMs` and `gaugeMm` are those of the first reading of a column: where the column really begins, see `WindowColumns`.
 * NaN = no value. The head ends on a multiple of 8, so that the arrays can be looked at in place.
 */
function windowBytes(window: WindowColumns): Uint8Array {
  const signals = Object.keys(window.channels);
  const withSpread = signals.some((name) => window.channels[name]!.sd !== undefined);
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
  for (const name of signals) for (const field of fields) put(window.channels[name]![field]);
  return bytes;
}

/** A window as bytes, gzipped where that is asked for and helps: readings halve at least, noise in all its digits does not. */
export async function packedWindow(window: WindowColumns, pack: boolean): Promise<WindowBytes> {
  const bytes = windowBytes(window);
  if (!pack) return { bytes, gzipped: false };
  const packed = await gzipped(bytes, { level: 1 });
  if (packed.length > bytes.length * 0.9) return { bytes, gzipped: false };
  // Its own buffer, for it may go to another thread.
  return { bytes: new Uint8Array(packed), gzipped: true };
}
