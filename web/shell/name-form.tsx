import { useRef, useState } from 'preact/hooks';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { showNotice } from './notice.tsx';
import { ProblemNote } from './problem-note.tsx';

interface Props {
  /** "run 3", "spool R3-1". */
  readonly of: string;
  readonly placeholder: string;
  readonly title: string;
  readonly save: (title: string) => Promise<{ readonly title: string }>;
  readonly changed: () => void;
}

/** What users call a run or a spool beside its number; can be undone. */
export function NameForm({ of, placeholder, title: before, save, changed }: Props) {
  const [title, setTitle] = useState(before);
  const followed = useRef(before);
  // A name given on another device is shown, unless something else has been typed here.
  if (followed.current !== before) {
    if (title === followed.current) setTitle(before);
    followed.current = before;
  }
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const failed = (thrown: unknown) => setProblem(asProblem(thrown));
  /** @param shown what the field shows before the answer; text typed while it is awaited stays */
  const set = async (to: string, shown: string) => {
    const saved = await save(to);
    setTitle((now) => (now === shown ? saved.title : now));
    changed();
    return saved.title;
  };
  const submit = async () => {
    try {
      const named = await set(title, title);
      setProblem(null);
      showNotice({
        text: named === '' ? 'Removed the name.' : `Named “${named}”.`,
        undo: () => void set(before, named).catch(failed),
      });
    } catch (thrown) {
      failed(thrown);
    }
  };
  return (
    <>
      {problem && <ProblemNote problem={problem} />}
      <form
        class="run-title"
        onSubmit={(event) => {
          event.preventDefault();
          void submit();
        }}
      >
        <div class="field">
          <label for="own-name">Name of {of}</label>
          <input
            id="own-name"
            maxLength={80}
            placeholder={placeholder}
            value={title}
            onInput={(event) => setTitle(event.currentTarget.value)}
          />
        </div>
        <button type="submit" disabled={title.trim() === before}>
          Save the name
        </button>
      </form>
    </>
  );
}
