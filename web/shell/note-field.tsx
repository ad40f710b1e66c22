import { useState } from 'preact/hooks';
import type { RunView } from '../../server/api/contract.ts';
import { asProblem, request, type ServiceProblem } from '../service/request.ts';
import { say } from '../shell/notice.tsx';
import { ProblemNote } from '../shell/problem-note.tsx';

/** A person's own words about the run. */
export function RunNote({ run }: { run: RunView }) {
  const [note, setNote] = useState(run.note);
  const [saved, setSaved] = useState(run.note);
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const save = async () => {
    try {
      await request('PUT', `/api/runs/${run.id}/note`, { note });
      setSaved(note);
      setProblem(null);
      say({ text: 'Note saved.' });
    } catch (thrown) {
      setProblem(asProblem(thrown));
    }
  };
  return (
    <section class="run-note" aria-labelledby="note-title">
      <h2 id="note-title">
        <label for="run-note">Your note</label>
      </h2>
      <textarea
        id="run-note"
        rows={3}
        maxLength={2000}
        placeholder="What was fed, how it was dried, what to try next time"
        value={note}
        onInput={(event) => setNote(event.currentTarget.value)}
      />
      {problem && <ProblemNote problem={problem} />}
      <p class="actions no-print">
        <button type="button" class="main" disabled={note === saved} onClick={save}>
          Save the note
        </button>
      </p>
    </section>
  );
}
