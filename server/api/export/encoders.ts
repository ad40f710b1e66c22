import type { ExportFormat } from '../contract/exports.ts';
import type { ExportTable, RowEncoder } from './export-table.ts';
import { parquetEncoder } from './parquet-encoder.ts';
import { csvEncoder, jsonLinesEncoder } from './text-encoders.ts';

export const ENCODERS: Readonly<Record<ExportFormat, (table: ExportTable) => RowEncoder>> = {
  csv: csvEncoder,
  jsonl: jsonLinesEncoder,
  parquet: parquetEncoder,
};
