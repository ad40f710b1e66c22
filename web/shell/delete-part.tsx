import { useState } from 'preact/hooks';
import { BIN_KEPT_DAYS } from '../../server/entities/bin.ts';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { may } from '../service/session.ts';
import { ProblemNote } from './problem-note.tsx';
import { go } from './router.ts';

interface Props {
  /** Such as "run 3". */
  readonly what: string;
  /** What else goes or stays, as a sentence. */
  readonly effect: string;
  readonly remove: () => Promise<unknown>;
}

/** Deletes a run or a spool after a question. The list of runs follows, where it can be restored. */
export function DeletePart({ what, effect, remove }: Props) {
  const [asking, setAsking] = useState(false);
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const answer = async () => {
    try {
      await remove();
      go('/runs');
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
