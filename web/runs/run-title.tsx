import { useState } from 'preact/hooks';
import type { RunView } from '../../server/api/contract/runs-and-spools.ts';
import { call } from '../service/call.ts';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { may } from '../service/session.ts';
import { Fold } from '../shell/fold.tsx';
import { NameForm } from '../shell/name-form.tsx';
import { showNotice } from '../shell/notice.tsx';
import { ProblemNote } from '../shell/problem-note.tsx';

/** What users call a run, and whether it was a test. */
export function RunTitle({ run, changed }: { run: RunView; changed: () => void }) {
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  if (!may('act')) return null;
  const params = { id: run.id };
  const mark = async (isTest: boolean) => {
    const { isTest: is } = await call('PUT /api/runs/:id/test', { params, body: { isTest } });
    changed();
    return is;
  };
  const failed = (thrown: unknown) => setProblem(asProblem(thrown));
  const toggle = async () => {
    try {
      const isTest = await mark(!run.isTest);
      setProblem(null);
      showNotice({
        text: isTest ? 'Marked as a test: it is left out of trends.' : 'No longer a test.',
        undo: () => void mark(run.isTest).catch(failed),
      });
    } catch (thrown) {
      failed(thrown);
    }
  };
  return (
    <Fold offPaper title={run.isTest ? 'Name · marked as a test' : 'Name, or mark as a test'} testId="run-title">
      <NameForm
        of={`run ${run.id}`}
        placeholder="Such as: first night with the new die"
        title={run.title}
        save={(title) => call('PUT /api/runs/:id/title', { params, body: { title } })}
        changed={changed}
      />
      {problem && <ProblemNote problem={problem} />}
      <p class="actions">
        <button type="button" onClick={toggle}>
          {run.isTest ? 'Not a test' : 'Mark as a test'}
        </button>
        <span class="fine">A test is left out of trends and of what to change next.</span>
      </p>
    </Fold>
  );
}
