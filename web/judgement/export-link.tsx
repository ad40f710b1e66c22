import type { ExportFormat } from '../../server/api/contract/exports.ts';
import { DownloadLink } from '../shell/download-link.tsx';
import { exportPath } from './export-words.ts';

/** The readings of a spool in one of the formats for other programs. */
export function ExportLink({ spoolId, format, words }: { spoolId: number; format: ExportFormat; words: string }) {
  return <DownloadLink path={exportPath(spoolId)} query={{ format }} words={words} testId={`export-${format}`} />;
}
