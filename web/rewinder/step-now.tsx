import { useEffect, useRef, useState } from 'preact/hooks';
import type { CutPlanView, CutStepView } from '../../server/api/contract/cut-plan.ts';
import { InlineForm } from '../form/inline-form.tsx';
import { NumberField } from '../form/number-field.tsx';
import { isWithin } from '../form/typed-number.ts';
import { length, unbroken } from '../format/numbers.ts';
import { ProblemNote } from '../shell/problem-note.tsx';
import { Shape } from '../shell/shape.tsx';
import { CoilRescue } from './coil-rescue.tsx';
import { CountDown, countsDown, leftOf } from './count-down.tsx';
import { CutProgressBar } from './cut-progress-bar.tsx';
import { OthersStepsNote } from './others-steps.tsx';
import type { RewinderModel } from './rewinder-model.ts';
import { doubtText, guardText, landmarkAt, landmarkFault, landmarkSavesMm, stepText } from './step-text.ts';
import { StepsToCome } from './steps-to-come.tsx';
import { UndoLast } from './undo-last.tsx';

const SHOWN_LANDMARKS = 3;
const FROM_ZERO = { minimum: 0 };

/** The current step in huge type. */
export function StepNow({ model, plan, step }: { model: RewinderModel; plan: CutPlanView; step: CutStepView }) {
  const heading = useRef<HTMLHeadingElement>(null);
  const seen = model.seenAtMm.value;
  const text = stepText(step, seen);
  const [counted, setCounted] = useState<number | null>(text.countedMm / 1000);
  const [counterMm, setCounterMm] = useState(0);
  useEffect(() => setCounted(text.countedMm / 1000), [text.countedMm]);
  const left = countsDown.value ? leftOf(text.countedMm, counterMm) : null;
  const setCounter = (mm: number) => {
    setCounterMm(mm);
    // What came off is recorded, also if it was too much.
    setCounted(Math.max(mm, text.countedMm) / 1000);
  };
  const doubts = doubtText(step.doubts);
  const others = model.others.value;
  // Focus the new step, so that it is read out and a second press of the thumb hits nothing.
  useEffect(() => {
    if (plan.done.length > 0) heading.current?.focus({ preventScroll: true });
  }, []);
  const number = plan.done.length + 1;
  const discard = step.action === 'discard';
  const next = plan.steps[1]?.landmarks[0];
  const guard = guardText(step);
  return (
    <section class={`step ${discard ? 'discard' : 'keep'}`} data-testid="step" data-action={step.action}>
      <CoilRescue model={model} plan={plan} />
      <CutProgressBar plan={plan} />
      <h1 ref={heading} tabIndex={-1} class="step-title">
        <span class="step-count">
          Step {number} of {plan.done.length + plan.steps.length}
        </span>
        <span class="step-verb">{text.verb}</span>{' '}
        <span class={`step-number ${left?.state ?? ''}`} data-testid="step-number">
          {left?.number ?? text.number}
          <span class="unit">{text.unit}</span>
        </span>{' '}
        <span class="step-after">
          {left === null ? text.after : left.state === 'past' ? left.after : `${left.after}, ${text.after}`}.{' '}
          {seen === null && <span class="step-tolerance">Counts may be off by {text.off}.</span>}
        </span>
      </h1>
      <p class="step-fate">
        <span class={`fate-mark ${discard ? 'discard' : 'keep'}`} aria-hidden="true" />
        <span>
          <strong>{text.fate}.</strong> {guard && <span class="quiet">{guard}</span>}
        </span>
      </p>
      {doubts !== '' && (
        <p class="with-shape step-doubt">
          <Shape of="abnormal" size={20} /> <span>{doubts}</span>
        </p>
      )}
      {countsDown.value && <CountDown counterMm={counterMm} set={setCounter} />}
      {step.landmarks.length > 0 && <Landmarks model={model} step={step} />}
      {!countsDown.value && <CountDown counterMm={counterMm} set={setCounter} />}
      {model.problem.value && <ProblemNote problem={model.problem.value} />}
      {others ? (
        <OthersStepsNote model={model} plan={plan} others={others} />
      ) : (
        <InlineForm
          class="step-form"
          button="Done"
          buttonClass="main step-done"
          ready={!model.busy.value && isWithin(counted, FROM_ZERO)}
          submit={() => counted !== null && model.done(step, Math.round(counted * 1000))}
        >
          <NumberField
            id="counted"
            label="Length counted"
            value={counted}
            digits={2}
            unit="m"
            bounds={FROM_ZERO}
            set={setCounted}
          />
        </InlineForm>
      )}
      <p class="actions step-actions">
        {plan.done.length > 0 ? (
          <UndoLast model={model} plan={plan} />
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
            disabled={model.busy.value || others !== null || !isWithin(counted, FROM_ZERO)}
            onClick={() => counted !== null && model.done(step, Math.round(counted * 1000), true)}
          >
            The spool is empty already
          </button>
        )}
      </p>
      {!discard && next && (
        <p class="step-next">
          <strong>After this cut:</strong> {unbroken(next.sentence)} If you see it now, the count is off: cut before it.
        </p>
      )}
      {plan.steps.length > 1 && <StepsToCome model={model} plan={plan} />}
    </section>
  );
}

/** The landmarks to look out for while unwinding. Entering the count at which one was seen corrects the count. */
function Landmarks({ model, step }: { model: RewinderModel; step: CutStepView }) {
  const seen = model.seenAtMm.value;
  const [first] = step.landmarks;
  const [at, setAt] = useState<number | null>(Math.max(0, first?.afterCutMm ?? 0) / 1000);
  const savesMm = landmarkSavesMm(step);
  const passed = seen === null ? null : landmarkAt(step, seen);
  const [fault, setFault] = useState<string | null>(null);
  const read = (): number | null => {
    if (at === null) return null;
    const seenAtMm = Math.round(at * 1000);
    const why = landmarkFault(step, seenAtMm);
    setFault(why);
    model.seenAtMm.value = why === null ? seenAtMm : null;
    return model.seenAtMm.value;
  };
  return (
    <div class={`landmark${seen === null ? '' : ' seen'}`}>
      {step.landmarks.slice(0, SHOWN_LANDMARKS).map((landmark) => (
        <p key={landmark.peakAtOuterMm} class="landmark-text">
          {unbroken(landmark.sentence)}
        </p>
      ))}
      {step.landmarks.length > SHOWN_LANDMARKS && (
        <p class="landmark-more">And {step.landmarks.length - SHOWN_LANDMARKS} more after that.</p>
      )}
      {savesMm > 0 && seen === null && (
        <p class="landmark-gain" data-testid="landmark-gain">
          Confirm it and you discard {length(savesMm)} less. It also keeps later margins small.
        </p>
      )}
      <InlineForm
        class="landmark-form"
        button={seen === null ? 'I see it now' : 'Another one'}
        ready={isWithin(at, FROM_ZERO)}
        submit={read}
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
      {seen === null && step.cutAfter && (
        <p>
          <button
            type="button"
            class="landmark-cut"
            disabled={model.busy.value || model.others.value !== null || !isWithin(at, FROM_ZERO)}
            onClick={() => {
              const seenAtMm = read();
              const then = seenAtMm === null ? null : landmarkAt(step, seenAtMm);
              if (seenAtMm !== null && then !== null) void model.done(step, seenAtMm + then.thenMm);
            }}
          >
            I saw it, and cut {length(step.landmarks.at(-1)?.thenMm ?? 0)} after it
          </button>
        </p>
      )}
      {fault !== null && (
        <p role="alert" class="with-shape">
          <Shape of="abnormal" size={20} /> <span>{fault}</span>
        </p>
      )}
      {seen !== null && passed !== null && (
        <p role="status">
          Seen at {length(seen)}: the count is corrected
          {Math.abs(seen - passed.afterCutMm) >= 5 && ` by ${length(Math.abs(seen - passed.afterCutMm))}`}.
          {step.cutAfter && ` Cut at ${length(seen + passed.thenMm)}.`}{' '}
          <button
            type="button"
            class="plain"
            onClick={() => {
              model.seenAtMm.value = null;
            }}
          >
            Undo
          </button>
        </p>
      )}
    </div>
  );
}
