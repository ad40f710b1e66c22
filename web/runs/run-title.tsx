import { useState } from 'preact/hooks';
import type { RunView } from '../../server/api/contract/runs-and-spools.ts';
import { call } from '../service/call.ts';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { may } from '../service/session.ts';
import { Fold } from '../shell/fold.tsx';
import { showNotice } from '../shell/notice.tsx';
import { ProblemNote } from '../shell/problem-note.tsx';

/** What users call a run, and whether it was a test. */
export function RunTitle({ run, changed }: { run: RunView; changed: () => void }) {
  const [title, setTitle] = useState(run.title);
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  if (!may('act')) return null;
  const save = async (act: () => Promise<RunView>, done: (saved: RunView) => string, undo: () => Promise<RunView>) => {
    try {
      const text = done(await act());
      setProblem(null);
      changed();
      const back = async () => {
        setTitle((await undo()).title);
        changed();
      };
      showNotice({ text, undo: back });
    } catch (thrown) {
      setProblem(asProblem(thrown));
    }
  };
  const params = { id: run.id };
  const name = (to: string) => () => call('PUT /api/runs/:id/title', { params, body: { title: to } });
  const mark = (isTest: boolean) => () => call('PUT /api/runs/:id/test', { params, body: { isTest } });
  return (
    <Fold offPaper title={run.isTest ? 'Name · marked as a test' : 'Name, or mark as a test'} testId="run-title">
      {problem && <ProblemNote problem={problem} />}
      <form
        class="run-title"
        onSubmit={(event) => {
          event.preventDefault();
          const named = ({ title: to }: RunView) => (to === '' ? 'Removed the name.' : `Named “${to}”.`);
          void save(name(title), named, name(run.title));
        }}
      >
        <div class="field">
          <label for="run-title">Name of run {run.id}</label>
          <input
            id="run-title"
            maxLength={80}
            placeholder="Such as: first night with the new die"
            value={title}
            onInput={(event) => setTitle(event.currentTarget.value)}
          />
        </div>
        <button type="submit" disabled={title.trim() === run.title}>
          Save the name
        </button>
      </form>
      <p class="actions">
        <button
          type="button"
          onClick={() => {
            const done = ({ isTest }: RunView) =>
              isTest ? 'Marked as a test: it is left out of trends.' : 'No longer a test.';
            void save(mark(!run.isTest), done, mark(run.isTest));
          }}
        >
          {run.isTest ? 'Not a test' : 'Mark as a test'}
        </button>
        <span class="fine">A test is left out of trends and of what to change next.</span>
      </p>
    </Fold>
  );
}
