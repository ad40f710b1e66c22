interface Props {
  readonly path: string;
  readonly query?: Readonly<Record<string, string>>;
  readonly text: string;
  readonly testId: string;
}

/** A link to a file that the service makes. */
export function DownloadLink({ path, query = {}, text, testId }: Props) {
  const search = new URLSearchParams(query).toString();
  return (
    <a href={search === '' ? path : `${path}?${search}`} download data-testid={testId}>
      {text}
    </a>
  );
}
