import { gzipSync } from 'node:zlib';
import { ByteWriter, ParquetWriter } from 'hyparquet-writer';
import {
  type ExportRows,
  type ExportTable,
  GAUGE_TITLE,
  POSITION_TITLE,
  type RowEncoder,
  signalTitles,
  TIME_TITLE,
} from './export-table.ts';

/** Neighbours differ in their last bytes only: their first bytes, kept together, take no room. */
const LENGTHS = 'BYTE_STREAM_SPLIT' as const;

/** Apache Parquet, one row group for each piece. Units are in the titles and, as JSON, in the file's metadata under `units`. */
export function parquetEncoder(table: ExportTable): RowEncoder {
  const titles = signalTitles(table);
  const placed = table.of === 'spool';
  const writer = new ByteWriter();
  const parquet = new ParquetWriter({
    writer,
    schema: [
      { name: 'root', num_children: (placed ? 3 : 2) + titles.length },
      {
        name: TIME_TITLE,
        type: 'INT64',
        converted_type: 'TIMESTAMP_MICROS',
        logical_type: { type: 'TIMESTAMP', isAdjustedToUTC: true, unit: 'MICROS' },
        repetition_type: 'REQUIRED',
      },
      ...(placed ? [{ name: POSITION_TITLE, type: 'DOUBLE', repetition_type: 'REQUIRED' } as const] : []),
      { name: GAUGE_TITLE, type: 'DOUBLE', repetition_type: 'REQUIRED' },
      ...titles.map((name) => ({ name, type: 'DOUBLE', repetition_type: 'OPTIONAL' }) as const),
    ],
    kvMetadata: [
      { key: table.of, value: table.name },
      { key: 'units', value: JSON.stringify(Object.fromEntries(table.signals.map(({ name, unit }) => [name, unit]))) },
    ],
    createdBy: 'Strandward',
    // Half the size of Snappy, which the writer would take; Node 20 has no zstd, which would save 4 % more.
    codec: 'GZIP',
    compressors: { GZIP: (bytes) => gzipSync(bytes) },
  });
  /** Takes the bytes written since the last call; the writer continues to count file offsets. */
  const drain = (): Uint8Array => {
    const bytes = writer.getBytes().slice();
    writer.index = 0;
    return bytes;
  };
  return {
    begin: drain,
    rows(rows: ExportRows) {
      const { timeMs, positionMm, gaugeMm, values } = rows;
      if (timeMs.length === 0) return new Uint8Array(0);
      void parquet.write({
        columnData: [
          {
            name: TIME_TITLE,
            data: BigInt64Array.from(timeMs as never, microsOf as never),
            encoding: 'DELTA_BINARY_PACKED',
          },
          ...(positionMm === null ? [] : [{ name: POSITION_TITLE, data: positionMm, encoding: LENGTHS }]),
          { name: GAUGE_TITLE, data: gaugeMm, encoding: LENGTHS },
          ...titles.map((name, c) => ({
            name,
            data: withNulls(values[c]!),
            ...(table.signals[c]!.name === 'len' && { encoding: LENGTHS }),
          })),
        ],
        rowGroupSize: timeMs.length,
      });
      return drain();
    },
    end() {
      void parquet.finish();
      return drain();
    },
  };
}

function microsOf(timeMs: number): bigint {
  return BigInt(Math.round(timeMs * 1000));
}

function withNulls(values: Float64Array): (number | null)[] {
  return Array.from(values, (value) => (Number.isFinite(value) ? value : null));
}
