import { useState } from 'preact/hooks';
import type { ExportFormat } from '../../server/api/spool-contract.ts';
import { accessKey } from '../service/access-key.ts';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { ticketQuery } from '../service/ticket.ts';
import { ProblemNote } from '../shell/problem-note.tsx';
import { exportPath } from './export-words.ts';

/** A download. Where the service wants an access key a ticket is asked for first: a link cannot carry the key unseen. */
export function ExportLink({ spoolId, format, words }: { spoolId: number; format: ExportFormat; words: string }) {
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const path = exportPath(spoolId);
  const fetchIt = async () => {
    try {
      const query = new URLSearchParams({ format, ...(await ticketQuery(path)) });
      setProblem(null);
      // Answered as an attachment: the page stays.
      location.assign(`${path}?${query}`);
    } catch (thrown) {
      setProblem(asProblem(thrown));
    }
  };
  return (
    <>
      <a
        href={`${path}?format=${format}`}
        download
        data-testid={`export-${format}`}
        onClick={(event) => {
          if (accessKey.peek() === '') return;
          event.preventDefault();
          fetchIt();
        }}
      >
        {words}
      </a>
      {problem && <ProblemNote problem={problem} />}
    </>
  );
}
