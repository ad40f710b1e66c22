import { useRef, useState } from 'preact/hooks';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { sendFile } from '../service/send-file.ts';
import { showNotice } from '../shell/notice.tsx';
import { ProblemNote } from '../shell/problem-note.tsx';
import { go } from '../shell/router.ts';
import { FileButton } from './file-button.tsx';
import { ImportProgress } from './import-progress.tsx';

const TYPE = 'application/vnd.strandward.run';

/** Imports a run that was exported by another installation. */
export function RunImport() {
  const [sent, setSent] = useState<number | null>(null);
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const stop = useRef(new AbortController());
  const take = async (file: File) => {
    stop.current = new AbortController();
    setProblem(null);
    setSent(0);
    try {
      const { id } = await sendFile<{ id: number }>('/api/runs/import', file, TYPE, setSent, stop.current.signal);
      showNotice({ text: `Imported as run ${id}.` });
      go(`/runs/${id}`);
    } catch (thrown) {
      if (!stop.current.signal.aborted) setProblem(asProblem(thrown));
    } finally {
      setSent(null);
    }
  };
  return (
    <section class="import" aria-labelledby="run-import-title">
      <h3 id="run-import-title">A run from another Strandward</h3>
      <p>
        The file that “Export the whole run” makes there: readings, spools, sections, alarms and notes. It gets a new
        number here.
      </p>
      {sent === null ? (
        <FileButton text="Import a run" testId="import-run" chosen={take} />
      ) : (
        <ImportProgress
          share={sent < 1 ? sent : null}
          text={sent < 1 ? 'Sending it' : 'Checking and importing it'}
          stop={sent < 1 ? () => stop.current.abort() : null}
        />
      )}
      {problem && <ProblemNote problem={problem} />}
    </section>
  );
}
