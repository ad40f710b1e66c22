import { routes } from './route-table.ts';
import { bytes, IdParam, input, oneOf, withDefault } from './schema.ts';

const EXPORT_FORMATS = ['csv', 'jsonl', 'parquet'] as const;
export type ExportFormat = (typeof EXPORT_FORMATS)[number];

const ExportQuery = input({ format: withDefault(oneOf(EXPORT_FORMATS), 'csv') });
const EXPORT_TYPES = ['text/csv', 'application/jsonl', 'application/vnd.apache.parquet'] as const;

/** Readings as files for other programs. */
export const exports = routes({
  'GET /api/spools/:id/export': {
    operationId: 'exportSpool',
    tag: 'spools',
    right: 'watch',
    summary: 'Download all readings of a spool',
    description:
      'As CSV, JSON lines or Parquet: time, position, gauge length and every signal, with units in the column titles.',
    params: IdParam,
    query: ExportQuery,
    answers: { 200: bytes() },
    produces: EXPORT_TYPES,
  },
  'GET /api/runs/:id/export': {
    operationId: 'exportRun',
    tag: 'runs',
    right: 'watch',
    summary: 'Download all readings of a run',
    description:
      'From heating up to shutting down, as CSV, JSON lines or Parquet: time, gauge length and every signal.',
    params: IdParam,
    query: ExportQuery,
    answers: { 200: bytes() },
    produces: EXPORT_TYPES,
  },
});
