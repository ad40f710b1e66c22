import type { ExportFormat } from '../../server/api/contract/exports.ts';

export const EXPORT_WORDS: readonly (readonly [ExportFormat, string, string])[] = [
  ['csv', 'CSV', 'for a spreadsheet'],
  ['jsonl', 'JSON lines', 'one reading a line'],
  ['parquet', 'Parquet', 'small and quick, for analysis'],
];

export function exportPath(spoolId: number): string {
  return `/api/spools/${spoolId}/export`;
}
