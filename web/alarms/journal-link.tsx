import { DownloadLink } from '../shell/download-link.tsx';

interface Props {
  readonly path: string;
  /** Without the format, which is added here. */
  readonly query?: Readonly<Record<string, string>>;
  readonly format: 'csv' | 'json';
}

/** A download of the journal. */
export function JournalLink({ path, query = {}, format }: Props) {
  return (
    <DownloadLink path={path} query={{ ...query, format }} text={format.toUpperCase()} testId={`journal-${format}`} />
  );
}
