import { useState } from 'preact/hooks';
import type { DismissedView } from '../../server/api/contract/runs-and-spools.ts';
import { KIND_TEXT } from '../../server/strand/section-names.ts';
import { InlineForm } from '../form/inline-form.tsx';
import { TextField } from '../form/text-field.tsx';
import { diameter, metres } from '../format/numbers.ts';
import { call } from '../service/call.ts';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { Fold } from '../shell/fold.tsx';
import { Needs } from '../shell/needs.tsx';
import { ProblemNote } from '../shell/problem-note.tsx';

interface Props {
  readonly dismissed: readonly DismissedView[];
  /** Where a section is, as the page counts. */
  readonly place: (section: DismissedView) => string;
  /** Called after one was brought back, or a reason was given. */
  readonly changed: () => void;
}

/** The sections of a spool that users dismissed: who, why, and the way back. */
export function DismissedList({ dismissed, place, changed }: Props) {
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  if (dismissed.length === 0) return null;
  const act = (done: Promise<unknown>) =>
    done.then(
      () => {
        setProblem(null);
        changed();
      },
      (thrown) => setProblem(asProblem(thrown)),
    );
  return (
    <Fold title={`${dismissed.length} dismissed`} testId="dismissed">
      <ul class="dismissed-list">
        {dismissed.map((one) => (
          <li key={one.id}>
            <s>
              {KIND_TEXT[one.kind]}
              {one.peakMm !== null && ` ${diameter(one.peakMm)}\u00a0mm`}, {place(one)}
            </s>
            {one.who && `, by ${one.who}`}
            {one.reason && `: ${one.reason}`}{' '}
            <Needs right="act">
              <button
                type="button"
                class="plain no-print"
                aria-label={`Bring back ${KIND_TEXT[one.kind]} at ${metres(one.fromSpoolMm)} m`}
                onClick={() => act(call('POST /api/spools/:id/sections/:section/restore', { params: paramsOf(one) }))}
              >
                Bring back
              </button>
              <Reason
                section={one}
                save={(reason) =>
                  act(
                    call('PUT /api/spools/:id/sections/:section/dismissal', {
                      params: paramsOf(one),
                      body: { reason },
                    }),
                  )
                }
              />
            </Needs>
          </li>
        ))}
      </ul>
      {problem && <ProblemNote problem={problem} />}
    </Fold>
  );
}

const paramsOf = ({ spoolId, id }: DismissedView) => ({ id: spoolId, section: id });

function Reason({ section, save }: { section: DismissedView; save: (reason: string) => Promise<void> }) {
  /** null = not open */
  const [reason, setReason] = useState<string | null>(null);
  if (reason === null) {
    return (
      <button type="button" class="plain no-print" onClick={() => setReason(section.reason)}>
        {section.reason === '' ? 'Say why…' : 'Change the reason…'}
      </button>
    );
  }
  return (
    <InlineForm
      button="Save the reason"
      ready={reason.trim() !== section.reason}
      submit={() => void save(reason.trim()).then(() => setReason(null))}
    >
      <TextField label="Why it was dismissed" maxLength={500} value={reason} set={setReason} />
    </InlineForm>
  );
}
