import { useEffect, useRef, useState } from 'preact/hooks';
import type { SectionView } from '../../server/api/contract/runs-and-spools.ts';
import { CUT_OUT_MAX_MM, proposedCutOutMm } from '../../server/strand/cut-out.ts';
import { NumberField } from '../form/number-field.tsx';
import { sectionName } from '../format/names.ts';
import { metres } from '../format/numbers.ts';
import { call } from '../service/call.ts';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { may } from '../service/session.ts';
import { showNotice } from '../shell/notice.tsx';
import { ProblemNote } from '../shell/problem-note.tsx';

interface Props {
  readonly section: SectionView;
  /** How many more wait for an answer. */
  readonly others: number;
  /** Shows the next of them. */
  readonly next: () => void;
}

/** What was done about a blob or thin spot: cut out, with how much strand, or left on the spool. */
export function BlobChoices({ section, others, next }: Props) {
  const { id, spoolId } = section;
  const [lengthMm, setLengthMm] = useState<number | null>(null);
  const [asking, setAsking] = useState(false);
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const done = useRef<HTMLButtonElement>(null);
  // Not the field: the keyboard of a phone would cover the page, and the proposed length often fits.
  useEffect(() => {
    if (asking) done.current?.focus();
  }, [asking]);
  if (spoolId === null || !may('act')) return null;
  const name = sectionName(section).toLowerCase();
  const act = async (what: () => Promise<void>) => {
    try {
      await what();
      setProblem(null);
      setAsking(false);
    } catch (thrown) {
      setProblem(asProblem(thrown));
    }
  };
  const cutOut = () =>
    act(async () => {
      const params = { id: spoolId, section: id };
      const joint = await call('POST /api/spools/:id/sections/:section/cut-out', {
        params,
        body: { lengthMm: lengthMm ?? Number.NaN },
      });
      const at = `${metres(joint.fromSpoolMm ?? 0)} m`;
      showNotice({
        text: `Cut out ${lengthMm} mm. The joint is marked at ${at}.`,
        undo: () => undoDecision(spoolId, joint.id),
      });
    });
  const leave = () =>
    act(async () => {
      await call('POST /api/spools/:id/sections/:section/leave', { params: { id: spoolId, section: id } });
      showNotice({ text: `The ${name} stays on the spool, marked.`, undo: () => undoDecision(spoolId, id) });
    });
  const open = () => {
    setLengthMm(proposedCutOutMm({ fromMm: section.fromGaugeMm, toMm: section.toGaugeMm }));
    setAsking(true);
  };
  return (
    <div class="blob-choices" data-testid="blob-choices" data-section={id}>
      {asking ? (
        <form
          class="actions"
          onSubmit={(event) => {
            event.preventDefault();
            void cutOut();
          }}
        >
          <NumberField
            label="Cut out, ends joined"
            unit="mm"
            value={lengthMm}
            bounds={{ minimum: 1, maximum: CUT_OUT_MAX_MM }}
            set={setLengthMm}
          />
          <button type="submit" ref={done} class="main" disabled={lengthMm === null}>
            Done
          </button>
          <button type="button" class="plain" onClick={() => setAsking(false)}>
            Cancel
          </button>
        </form>
      ) : (
        <p class="actions">
          <button type="button" onClick={open} aria-label={`Cut out the ${name}`}>
            Cut out…
          </button>
          <button type="button" onClick={leave} aria-label={`Leave the ${name} on the spool`}>
            Leave on the spool
          </button>
          {others > 0 && (
            <button type="button" class="plain" onClick={next}>
              {others} more
            </button>
          )}
        </p>
      )}
      {problem && <ProblemNote problem={problem} />}
    </div>
  );
}

/** Reports a refusal as a notice, too: once a decision is made, its choices are no longer on the page. */
async function undoDecision(spoolId: number, sectionId: string): Promise<void> {
  try {
    await call('DELETE /api/spools/:id/sections/:section/decision', { params: { id: spoolId, section: sectionId } });
    showNotice({ text: 'Undone.' });
  } catch (thrown) {
    const { message, detail } = asProblem(thrown);
    showNotice({ text: `${message} ${detail}` });
  }
}
