import { routes } from './route-table.ts';
import { bytes, IdParam, input, oneOf, withDefault } from './schema.ts';

const EXPORT_FORMATS = ['csv', 'jsonl', 'parquet'] as const;
export type ExportFormat = (typeof EXPORT_FORMATS)[number];

/** A header of downloads that are made while they are sent: about how many bytes will come, for a progress bar. */
export const BYTES_ABOUT = 'strandward-bytes-about';
export const SIZE_SENTENCE = `The header ${BYTES_ABOUT} says about how large it will be.`;

const ExportQuery = input({ format: withDefault(oneOf(EXPORT_FORMATS), 'csv') });
const EXPORT_TYPES = ['text/csv', 'application/jsonl', 'application/vnd.apache.parquet'] as const;

/** Readings as files for other programs. */
export const exports = routes({
  'GET /api/spools/:id/export': {
    operationId: 'exportSpool',
    tag: 'spools',
    right: 'watch',
    summary: 'Download all readings of a spool',
    description: `As CSV, JSON lines or Parquet: time, position, gauge length and every signal, with units in the column titles. ${SIZE_SENTENCE}`,
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
    description: `From heating up to shutting down, as CSV, JSON lines or Parquet: time, gauge length and every signal. ${SIZE_SENTENCE}`,
    params: IdParam,
    query: ExportQuery,
    answers: { 200: bytes() },
    produces: EXPORT_TYPES,
  },
});
