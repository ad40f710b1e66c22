import { gunzipSync } from 'node:zlib';
import { parquetReadObjects } from 'hyparquet';

/** The rows of a Parquet file, read by a library that shares no code with the writer. */
export function rowsOf(file: ArrayBuffer, which: { rowStart?: number; rowEnd?: number; columns?: string[] } = {}) {
  return parquetReadObjects({ file, ...which, compressors: { GZIP: (bytes) => gunzipSync(bytes) } });
}
