import { useState } from 'preact/hooks';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { may } from '../service/session.ts';
import { showNotice } from './notice.tsx';
import { ProblemNote } from './problem-note.tsx';

interface Props {
  readonly id: string;
  readonly title: string;
  readonly placeholder: string;
  readonly save: (note: string) => Promise<unknown>;
  readonly note: string;
  readonly maxLength: number;
}

/** A note that a user writes on a run or a spool. */
export function NoteField({ id, title, placeholder, save: put, note: stored, maxLength }: Props) {
  const [note, setNote] = useState(stored);
  const [saved, setSaved] = useState(stored);
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const save = async () => {
    try {
      await put(note);
      setSaved(note);
      setProblem(null);
      showNotice({ text: 'Note saved.' });
    } catch (thrown) {
      setProblem(asProblem(thrown));
    }
  };
  return (
    <section class={`note${saved === '' ? ' empty' : ''}`} aria-labelledby={`${id}-title`}>
      <h2 id={`${id}-title`}>
        <label for={id}>{title}</label>
      </h2>
      <textarea
        id={id}
        rows={3}
        maxLength={maxLength}
        readOnly={!may('act')}
        placeholder={placeholder}
        value={note}
        onInput={(event) => setNote(event.currentTarget.value)}
      />
      {problem && <ProblemNote problem={problem} />}
      {may('act') && (
        <p class="actions no-print">
          <button type="button" class="main" disabled={note === saved} onClick={save}>
            Save the note
          </button>
        </p>
      )}
    </section>
  );
}
