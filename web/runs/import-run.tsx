import { useRef, useState } from 'preact/hooks';
import { ask, asProblem, type ServiceProblem } from '../service/request.ts';
import { say } from '../shell/notice.tsx';
import { ProblemNote } from '../shell/problem-note.tsx';
import { go } from '../shell/router.ts';

/** Takes in a run that another installation exported whole. */
export function ImportRun() {
  const [busy, setBusy] = useState(false);
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const chosen = useRef<HTMLInputElement>(null);
  const take = async (file: File) => {
    setBusy(true);
    try {
      const body = file.slice(0, file.size, TYPE);
      const read = (answer: Response) => answer.json() as Promise<{ id: number }>;
      const { id } = await ask('POST', '/api/runs/import', 'application/json', read, body);
      setProblem(null);
      say({ text: `Taken in as run ${id}.` });
      go(`/runs/${id}`);
    } catch (thrown) {
      setProblem(asProblem(thrown));
    } finally {
      setBusy(false);
      if (chosen.current) chosen.current.value = '';
    }
  };
  return (
    <>
      <p class="no-print">
        <input
          ref={chosen}
          type="file"
          id="import-run"
          hidden
          onChange={(event) => {
            const file = event.currentTarget.files?.[0];
            if (file) take(file);
          }}
        />
        <button type="button" class="plain" disabled={busy} onClick={() => chosen.current?.click()}>
          {busy ? 'Taking it in …' : 'Take in a run from another Strandward'}
        </button>
      </p>
      {problem && <ProblemNote problem={problem} />}
    </>
  );
}

const TYPE = 'application/vnd.strandward.run';
