import { buffersOf, HandedOver } from '../../worker/calls.ts';
import { type OpenWorker, openWorker, workerCode } from '../../worker/open-worker.ts';
import type { ExportFormat } from '../contract/exports.ts';
import type { ExportRows, ExportTable, RowEncoder } from './export-table.ts';
import { parquetEncoder } from './parquet-encoder.ts';
import { csvEncoder, jsonLinesEncoder } from './text-encoders.ts';

const ENCODERS: Readonly<Record<ExportFormat, (table: ExportTable) => RowEncoder>> = {
  csv: csvEncoder,
  jsonl: jsonLinesEncoder,
  parquet: parquetEncoder,
};

interface EncodingStart {
  readonly format: ExportFormat;
  readonly table: ExportTable;
}

/** Turns the readings of one export into bytes. */
export function createEncoding({ format, table }: EncodingStart) {
  const encoder: RowEncoder = ENCODERS[format](table);
  const handOver = (bytes: Uint8Array) => new HandedOver(bytes, [bytes]);
  return {
    begin: () => handOver(encoder.begin()),
    rows: (rows: ExportRows) => handOver(encoder.rows(rows)),
    end: () => handOver(encoder.end()),
  };
}

/** On a worker, because encoding a long run as Parquet takes many seconds. */
export function openEncoding(start: EncodingStart): OpenWorker<ReturnType<typeof createEncoding>> {
  const code = workerCode(import.meta.url, 'encoding-worker');
  return openWorker({ task: 'writes the export', code, create: createEncoding, start });
}

/** The buffers of the rows, to transfer them without copying. */
export function rowBuffers({ timeMs, positionMm, gaugeMm, values }: ExportRows): ArrayBuffer[] {
  return buffersOf([timeMs, ...(positionMm === null ? [] : [positionMm]), gaugeMm, ...values]);
}
