import { useState } from 'preact/hooks';
import { accessKey } from '../service/access-key.ts';
import { asProblem, problemOf, type ServiceProblem } from '../service/request.ts';
import { ProblemNote } from '../shell/problem-note.tsx';

interface Props {
  /** Without the format. */
  readonly path: string;
  readonly format: 'csv' | 'json';
}

/** A download of the journal. Where the service wants an access key the page fetches it itself: a link cannot carry one. */
export function JournalLink({ path, format }: Props) {
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const href = `${path}${path.includes('?') ? '&' : '?'}format=${format}`;
  const fetchIt = async () => {
    try {
      const reply = await fetch(href, { headers: { authorization: `Bearer ${accessKey.peek()}` } });
      if (!reply.ok) throw problemOf(reply.status, await reply.text());
      const name = /filename="([^"]+)"/.exec(reply.headers.get('content-disposition') ?? '')?.[1];
      save(await reply.blob(), name ?? `alarms.${format}`);
      setProblem(null);
    } catch (thrown) {
      setProblem(asProblem(thrown));
    }
  };
  return (
    <>
      <a
        href={href}
        download
        data-testid={`journal-${format}`}
        onClick={(event) => {
          if (accessKey.peek() === '') return;
          event.preventDefault();
          fetchIt();
        }}
      >
        {format.toUpperCase()}
      </a>
      {problem && <ProblemNote problem={problem} />}
    </>
  );
}

function save(content: Blob, name: string): void {
  const link = document.createElement('a');
  link.href = URL.createObjectURL(content);
  link.download = name;
  link.click();
  URL.revokeObjectURL(link.href);
}
