import { useEffect, useMemo } from 'preact/hooks';
import { refetchVersion } from '../service/live-store.ts';
import { ProblemNote } from '../shell/problem-note.tsx';
import { AllCut } from './all-cut.tsx';
import { BeforeCutting } from './before-cutting.tsx';
import { RewinderModel } from './rewinder-model.ts';
import { StepNow } from './step-now.tsx';

/** The cut plan at the rewinder: choose, then one huge step at a time, then the coils. */
export default function RewinderPage({ spoolId }: { spoolId: number }) {
  const model = useMemo(() => new RewinderModel(spoolId), [spoolId]);
  const version = refetchVersion.value;
  useEffect(() => {
    void model.load();
  }, [model, version]);
  useWakeLock(model.begun.value);
  const plan = model.plan.value;
  const problem = model.problem.value;
  if (!plan) {
    return problem ? (
      <section class="prose">
        <ProblemNote problem={problem} again={() => model.load()} />
        <p>
          <a href={`/spool/${spoolId}`}>Back to the spool</a>
        </p>
      </section>
    ) : (
      <p class="quiet">Planning the cuts …</p>
    );
  }
  const step = plan.steps[0];
  return (
    <article class="rewinder">
      {!model.begun.value ? (
        <BeforeCutting model={model} plan={plan} />
      ) : step ? (
        <StepNow key={`${plan.done.length} ${step.countedMm}`} model={model} plan={plan} step={step} />
      ) : (
        <AllCut model={model} plan={plan} />
      )}
    </article>
  );
}

/** A phone that goes dark between two cuts has to be woken with a dirty thumb. */
function useWakeLock(wanted: boolean): void {
  useEffect(() => {
    if (!wanted || !('wakeLock' in navigator)) return;
    let lock: WakeLockSentinel | null = null;
    let over = false;
    const hold = () => {
      if (document.visibilityState !== 'visible') return;
      navigator.wakeLock.request('screen').then(
        (given) => {
          if (over) given.release();
          else lock = given;
        },
        // Refused with a low battery: the page works all the same.
        () => {},
      );
    };
    hold();
    document.addEventListener('visibilitychange', hold);
    return () => {
      over = true;
      document.removeEventListener('visibilitychange', hold);
      lock?.release();
    };
  }, [wanted]);
}
