import { useState } from 'preact/hooks';
import type { RunView } from '../../server/api/contract/runs-and-spools.ts';
import { call } from '../service/call.ts';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { may } from '../service/session.ts';
import { showNotice } from '../shell/notice.tsx';
import { ProblemNote } from '../shell/problem-note.tsx';

/** Explains the example runs, if there are any, and removes them with one tap. */
export function Examples({ runs, changed }: { runs: readonly RunView[]; changed: () => void }) {
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const examples = runs.filter(({ example }) => example);
  const all = async (route: 'DELETE /api/runs/:id' | 'POST /api/runs/:id/restore') => {
    try {
      for (const { id } of examples) await call(route, { params: { id } });
      setProblem(null);
      return true;
    } catch (thrown) {
      setProblem(asProblem(thrown));
      return false;
    } finally {
      changed();
    }
  };
  const remove = async () => {
    if (await all('DELETE /api/runs/:id'))
      showNotice({ text: 'Removed the examples.', undo: () => all('POST /api/runs/:id/restore') });
  };
  return (
    <>
      {problem && <ProblemNote problem={problem} />}
      {examples.length > 0 && (
        <p class="examples no-print" data-testid="examples">
          <span>
            The runs marked <span class="example-mark">Example</span> were simulated to show what a night looks like.
            They say nothing about your own line.
          </span>
          {may('manage') && (
            <button type="button" class="plain" onClick={remove}>
              Remove the examples
            </button>
          )}
        </p>
      )}
    </>
  );
}
