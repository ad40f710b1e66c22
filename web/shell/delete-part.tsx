import { useState } from 'preact/hooks';
import { BIN_KEPT_DAYS } from '../../server/entities/bin.ts';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { may } from '../service/session.ts';
import { showNotice } from './notice.tsx';
import { ProblemNote } from './problem-note.tsx';
import { go } from './router.ts';

interface Props {
  /** Such as "run 3". */
  readonly what: string;
  /** What else goes or stays, as a sentence. */
  readonly effect: string;
  /** The page that lists what is left, and the bin. */
  readonly list: '/runs' | '/spools';
  readonly remove: () => Promise<unknown>;
  readonly restore: () => Promise<unknown>;
}

/** Deletes a run or a spool after a question. The list follows, where it can be restored. */
export function DeletePart({ what, effect, list, remove, restore }: Props) {
  const [asking, setAsking] = useState(false);
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const answer = async () => {
    try {
      const here = location.pathname;
      await remove();
      go(list);
      const back = () =>
        restore().then(
          () => go(here),
          (thrown) => showNotice({ text: asProblem(thrown).message }),
        );
      showNotice({ text: `Deleted ${what}.`, undo: () => void back() });
    } catch (thrown) {
      setProblem(asProblem(thrown));
    }
  };
  if (!may('manage')) return null;
  return (
    <section class="no-print" data-testid="delete-part">
      {problem && <ProblemNote problem={problem} />}
      {asking ? (
        <>
          <p role="alert">
            Delete {what}? {effect} You can restore it from the bin for {BIN_KEPT_DAYS} days.
          </p>
          <p class="actions">
            <button type="button" data-testid="delete-yes" onClick={answer}>
              Delete {what}
            </button>
            <button type="button" class="plain" onClick={() => setAsking(false)}>
              Cancel
            </button>
          </p>
        </>
      ) : (
        <p class="actions">
          <button type="button" data-testid="delete" onClick={() => setAsking(true)}>
            Delete {what}…
          </button>
        </p>
      )}
    </section>
  );
}
