import { useRef, useState } from 'preact/hooks';
import { FileButton } from '../form/file-button.tsx';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { sendFile } from '../service/send-file.ts';
import { showNotice } from '../shell/notice.tsx';
import { ProblemNote } from '../shell/problem-note.tsx';
import { ProgressLine } from '../shell/progress-line.tsx';
import { go } from '../shell/router.ts';

const TYPE = 'application/vnd.strandward.run';

interface Imported {
  readonly id: number;
  readonly alreadyHere: boolean;
}

/** Imports a run that was exported by another installation. */
export function RunImport() {
  const [sent, setSent] = useState<number | null>(null);
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const stop = useRef(new AbortController());
  /** The run that the file holds, if it is here already. */
  const [known, setKnown] = useState<{ readonly id: number; readonly file: File } | null>(null);
  const take = async (file: File, again = false) => {
    stop.current = new AbortController();
    setProblem(null);
    setKnown(null);
    setSent(0);
    try {
      const path = `/api/runs/import${again ? '?again=true' : ''}`;
      const taken = await sendFile<Imported>(path, file, TYPE, setSent, stop.current.signal);
      if (taken.alreadyHere) return setKnown({ id: taken.id, file });
      showNotice({ text: `Imported as run ${taken.id}.` });
      go(`/runs/${taken.id}`);
    } catch (thrown) {
      if (!stop.current.signal.aborted) setProblem(asProblem(thrown));
    } finally {
      setSent(null);
    }
  };
  return (
    <section class="import" aria-labelledby="run-import-title">
      <h2 id="run-import-title">A run from another Strandward</h2>
      <p>
        The file that “Export the whole run” makes there: readings, spools, marked stretches, alarms and notes. It gets
        a new number here.
      </p>
      {sent === null ? (
        <FileButton text="Import a run" testId="import-run" chosen={(file) => take(file)} />
      ) : (
        <ProgressLine
          share={sent < 1 ? sent : null}
          text={sent < 1 ? 'Uploading' : 'Checking and importing'}
          stop={() => stop.current.abort()}
        />
      )}
      {known && (
        <p role="status" class="import-done">
          This run is already here as <a href={`/runs/${known.id}`}>run {known.id}</a>. Nothing was imported.{' '}
          <button type="button" class="plain" onClick={() => take(known.file, true)}>
            Import it as another run
          </button>
        </p>
      )}
      {problem && <ProblemNote problem={problem} />}
    </section>
  );
}
