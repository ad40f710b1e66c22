import { useState } from 'preact/hooks';
import { accessKey } from '../service/access-key.ts';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { ticketQuery } from '../service/ticket.ts';
import { ProblemNote } from './problem-note.tsx';

interface Props {
  readonly path: string;
  readonly query?: Readonly<Record<string, string>>;
  readonly text: string;
  readonly testId: string;
}

/** A download link. Where an access key is required it first requests a ticket, because a link would show the key. */
export function DownloadLink({ path, query = {}, text, testId }: Props) {
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const address = (more: Readonly<Record<string, string>>) => {
    const text = new URLSearchParams({ ...query, ...more }).toString();
    return text === '' ? path : `${path}?${text}`;
  };
  const fetchIt = async () => {
    try {
      const ticket = await ticketQuery(path);
      setProblem(null);
      // The answer is an attachment, so the page stays.
      location.assign(address(ticket));
    } catch (thrown) {
      setProblem(asProblem(thrown));
    }
  };
  return (
    <>
      <a
        href={address({})}
        download
        data-testid={testId}
        onClick={(event) => {
          if (accessKey.peek() === '') return;
          event.preventDefault();
          void fetchIt();
        }}
      >
        {text}
      </a>
      {problem && <ProblemNote problem={problem} />}
    </>
  );
}
