import { useEffect, useMemo } from 'preact/hooks';
import { refetchVersion } from '../service/live-store.ts';
import { Needs } from '../shell/needs.tsx';
import { ProblemNote } from '../shell/problem-note.tsx';
import { AllCut } from './all-cut.tsx';
import { BeforeCutting } from './before-cutting.tsx';
import { RewinderModel } from './rewinder-model.ts';
import { StepNow } from './step-now.tsx';

/** The cut list at the rewinder: the choices, then one huge step at a time, then the coils. */
export default function RewinderPage({ spoolId }: { spoolId: number }) {
  const model = useMemo(() => new RewinderModel(spoolId), [spoolId]);
  const version = refetchVersion.value;
  useEffect(() => {
    void model.load();
  }, [model, version]);
  useWakeLock(model.started.value);
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
      <Needs right="act">
        {!model.started.value ? (
          <BeforeCutting model={model} plan={plan} />
        ) : step ? (
          <StepNow key={`${plan.done.length} ${step.countedMm}`} model={model} plan={plan} step={step} />
        ) : (
          <AllCut model={model} plan={plan} />
        )}
      </Needs>
    </article>
  );
}

/** Keeps the screen awake, so that no one has to wake the phone with a dirty thumb between two cuts. */
function useWakeLock(wanted: boolean): void {
  useEffect(() => {
    if (!wanted || !('wakeLock' in navigator)) return;
    let lock: WakeLockSentinel | null = null;
    let over = false;
    const hold = () => {
      if (document.visibilityState !== 'visible') return;
      navigator.wakeLock.request('screen').then(
        (granted) => {
          if (over) granted.release();
          else lock = granted;
        },
        // Refused on low battery. The page works without it.
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
