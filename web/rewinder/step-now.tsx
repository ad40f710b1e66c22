import { useEffect, useRef, useState } from 'preact/hooks';
import type { CutPlanView, CutStepView } from '../../server/api/contract/cut-plan.ts';
import { InlineForm } from '../form/inline-form.tsx';
import { NumberField } from '../form/number-field.tsx';
import { isWithin } from '../form/typed-number.ts';
import { length, unbroken } from '../format/numbers.ts';
import { ProblemNote } from '../shell/problem-note.tsx';
import { CutProgressBar } from './cut-progress-bar.tsx';
import type { RewinderModel } from './rewinder-model.ts';
import { guardText, shortStep, stepText } from './step-text.ts';

/** Number of following steps to list; the rest are folded away. */
const COMING = 4;
const FROM_ZERO = { minimum: 0 };

/** The current step in huge type. */
export function StepNow({ model, plan, step }: { model: RewinderModel; plan: CutPlanView; step: CutStepView }) {
  const heading = useRef<HTMLHeadingElement>(null);
  const seen = model.seenAtMm.value;
  const text = stepText(step, seen);
  const [counted, setCounted] = useState<number | null>(text.countedMm / 1000);
  useEffect(() => setCounted(text.countedMm / 1000), [text.countedMm]);
  // Focus the new step, so that it is read out and a second press of the thumb hits nothing.
  useEffect(() => {
    if (plan.done.length > 0) heading.current?.focus({ preventScroll: true });
  }, []);
  const number = plan.done.length + 1;
  const discard = step.action === 'discard';
  const landmark = discard ? step.landmark : null;
  const guard = guardText(step);
  return (
    <section class={`step ${discard ? 'discard' : 'keep'}`} data-testid="step" data-action={step.action}>
      <CutProgressBar plan={plan} />
      <h1 ref={heading} tabIndex={-1} class="step-title">
        <span class="step-count">
          Step {number} of {plan.done.length + plan.steps.length}
        </span>
        <span class="step-verb">{text.verb}</span>{' '}
        <span class="step-number" data-testid="step-number">
          {text.number}
          <span class="unit">{text.unit}</span>
        </span>{' '}
        <span class="step-after">
          {text.after}. <span class="step-tolerance">Counts may be off by {text.off}.</span>
        </span>
      </h1>
      <p class="step-fate">
        <span class={`fate-mark ${discard ? 'discard' : 'keep'}`} aria-hidden="true" />
        <span>
          <strong>{text.fate}.</strong> {guard && <span class="quiet">{guard}</span>}
        </span>
      </p>
      {landmark && <Landmark model={model} step={step} sentence={landmark.sentence} afterMm={landmark.afterCutMm} />}
      {model.problem.value && <ProblemNote problem={model.problem.value} />}
      <InlineForm
        class="step-form"
        button="Done"
        buttonClass="main step-done"
        ready={!model.busy.value && isWithin(counted, FROM_ZERO)}
        submit={() => counted !== null && model.done(step, Math.round(counted * 1000))}
      >
        <NumberField
          id="counted"
          label="Really counted"
          value={counted}
          digits={2}
          unit="m"
          bounds={FROM_ZERO}
          set={setCounted}
        />
      </InlineForm>
      <p class="actions step-actions">
        {plan.done.length > 0 ? (
          <button type="button" class="step-undo" disabled={model.busy.value} onClick={() => model.undo()}>
            Undo the last step
          </button>
        ) : (
          <button
            type="button"
            class="step-undo"
            onClick={() => {
              model.started.value = false;
            }}
          >
            Back to the choices
          </button>
        )}
        {step.cutAfter && (
          <button
            type="button"
            class="plain"
            disabled={model.busy.value || !isWithin(counted, FROM_ZERO)}
            onClick={() => counted !== null && model.done(step, Math.round(counted * 1000), true)}
          >
            The core is bare already
          </button>
        )}
      </p>
      {!discard && step.landmark && (
        <p class="step-next">
          <strong>After this cut:</strong> {unbroken(step.landmark.sentence)}
        </p>
      )}
      {plan.steps.length > 1 && (
        <section class="step-list" aria-labelledby="coming-title">
          <h2 id="coming-title">Then</h2>
          <ol start={number + 1}>
            {plan.steps.slice(1, 1 + COMING).map((one) => (
              <li key={one.ordinal}>{shortStep(one)}</li>
            ))}
          </ol>
          {plan.steps.length > 1 + COMING && (
            <details>
              <summary>And {plan.steps.length - 1 - COMING} more</summary>
              <ol start={number + 1 + COMING}>
                {plan.steps.slice(1 + COMING).map((one) => (
                  <li key={one.ordinal}>{shortStep(one)}</li>
                ))}
              </ol>
            </details>
          )}
        </section>
      )}
    </section>
  );
}

/** The landmark to look out for while unwinding. Entering the count at which it was seen corrects the count. */
function Landmark(props: { model: RewinderModel; step: CutStepView; sentence: string; afterMm: number }) {
  const { model, afterMm } = props;
  const seen = model.seenAtMm.value;
  const [at, setAt] = useState<number | null>(Math.max(0, afterMm) / 1000);
  return (
    <div class={`landmark${seen === null ? '' : ' seen'}`}>
      <p class="landmark-text">{unbroken(props.sentence)}</p>
      {seen === null ? (
        <InlineForm
          class="landmark-form"
          button="I see it now"
          ready={isWithin(at, FROM_ZERO)}
          submit={() => {
            if (at !== null) model.seenAtMm.value = Math.round(at * 1000);
          }}
        >
          <NumberField
            id="seen-at"
            label="The counter shows"
            value={at}
            digits={2}
            unit="m"
            bounds={FROM_ZERO}
            set={setAt}
          />
        </InlineForm>
      ) : (
        <p role="status">
          Seen at {length(seen)}: the count is put right
          {Math.abs(seen - afterMm) >= 5 && ` by ${length(Math.abs(seen - afterMm))}`}.{' '}
          <button
            type="button"
            class="plain"
            onClick={() => {
              model.seenAtMm.value = null;
            }}
          >
            Take that back
          </button>
        </p>
      )}
    </div>
  );
}
