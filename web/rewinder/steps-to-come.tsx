import { useState } from 'preact/hooks';
import type { CutPlanView, CutStepView } from '../../server/api/contract/cut-plan.ts';
import { AskFirst } from '../shell/ask-first.tsx';
import type { RewinderModel } from './rewinder-model.ts';
import { shortStep } from './step-text.ts';

/** Number of following steps to list; the rest are folded away. */
const COMING = 4;

/** The following steps. Those that were cut by the printed list can be ticked off together. */
export function StepsToCome({ model, plan }: { model: RewinderModel; plan: CutPlanView }) {
  const [upTo, setUpTo] = useState<number | null>(null);
  const first = plan.done.length + 1;
  const rows = (steps: readonly CutStepView[]) =>
    steps.map((one) => (
      <li key={one.ordinal}>
        {shortStep(one)}{' '}
        <button
          type="button"
          class="plain up-to"
          disabled={model.busy.value || model.others.value !== null}
          onClick={() => setUpTo(one.ordinal)}
        >
          Cut up to here
        </button>
      </li>
    ));
  return (
    <section class="step-list" aria-labelledby="coming-title">
      <h2 id="coming-title">Then</h2>
      <ol start={first + 1}>{rows(plan.steps.slice(1, 1 + COMING))}</ol>
      {plan.steps.length > 1 + COMING && (
        <details>
          <summary>And {plan.steps.length - 1 - COMING} more</summary>
          <ol start={first + 1 + COMING}>{rows(plan.steps.slice(1 + COMING))}</ol>
        </details>
      )}
      {upTo !== null && (
        <AskFirst
          title={`Tick off steps ${first} to ${first + upTo - 1}?`}
          yes="Tick them off"
          no="Cancel"
          answer={(yes) => {
            setUpTo(null);
            if (yes) void model.doneAsPlanned(plan.steps.slice(0, upTo));
          }}
        >
          Only if each piece was cut at the length of the list. Otherwise tick them off one by one, with the lengths
          counted.
        </AskFirst>
      )}
    </section>
  );
}
