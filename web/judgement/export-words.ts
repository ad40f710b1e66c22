import type { ExportFormat } from '../../server/api/spool-contract.ts';

export const EXPORT_WORDS: readonly (readonly [ExportFormat, string, string])[] = [
  ['csv', 'CSV', 'for a spreadsheet'],
  ['jsonl', 'JSON lines', 'one reading a line'],
  ['parquet', 'Parquet', 'small and quick, for analysis'],
];

/** A link cannot carry a header, so the access key goes with the address where the service wants one. */
export function exportHref(spoolId: number, format: ExportFormat, key: string): string {
  const query = new URLSearchParams(key === '' ? { format } : { format, key });
  return `/api/spools/${spoolId}/export?${query}`;
}
