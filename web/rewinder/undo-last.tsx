import { useState } from 'preact/hooks';
import type { CutPlanView } from '../../server/api/contract/cut-plan.ts';
import { AskFirst } from '../shell/ask-first.tsx';
import { cutText } from './others-steps.tsx';
import type { RewinderModel } from './rewinder-model.ts';

/** Undoes the last step. It asks first if another device has just done it: the thumb may have meant the step before. */
export function UndoLast({ model, plan }: { model: RewinderModel; plan: CutPlanView }) {
  const [asks, setAsks] = useState(false);
  const others = model.lastByOthers();
  return (
    <>
      <button
        type="button"
        class="step-undo"
        disabled={model.busy.value}
        onClick={() => (others === null ? void model.undo() : setAsks(true))}
      >
        Undo the last step
      </button>
      {asks && others && (
        <AskFirst
          title={`Undo step ${plan.done.length}, which ${others.who || 'someone else'} did?`}
          yes="Undo it"
          no="Leave it"
          answer={(yes) => {
            setAsks(false);
            if (yes) void model.undo();
          }}
        >
          It {cutText(others, plan)}. Undo it only if that cut was not made.
        </AskFirst>
      )}
    </>
  );
}
