import { useEffect, useRef, useState } from 'preact/hooks';
import type { SpoolDetail } from '../../server/api/contract/runs-and-spools.ts';
import { NumberField } from '../form/number-field.tsx';
import { metres } from '../format/numbers.ts';
import { ProblemNote } from '../shell/problem-note.tsx';
import type { SpoolModel } from './spool-model.ts';

type What = 'later' | 'earlier' | 'changed';

const WHAT_TEXT: Readonly<Record<What, string>> = {
  later: 'It starts later',
  earlier: 'It starts earlier',
  changed: 'It was changed',
};
const FIELD_TEXT: Readonly<Record<What, string>> = {
  later: 'Starts at, from the inner end',
  earlier: 'Earlier by',
  changed: 'Changed at, from the inner end',
};
/** Strand that must remain on either side of the place, mm. */
const LEAST_MM = 10;
/** A second press within this time is part of a double press. */
const DOUBLE_PRESS_MS = 600;

/** Corrects where the spool starts, or splits it where the spool was changed. */
export function SpoolBounds({ model, detail }: { model: SpoolModel; detail: SpoolDetail }) {
  // The form is mounted afresh each time, so that no entry of the last time is left.
  return model.bounds.value === null ? null : <BoundsForm model={model} detail={detail} />;
}

function BoundsForm({ model, detail }: { model: SpoolModel; detail: SpoolDetail }) {
  const { spool, run } = detail;
  const first = useRef<HTMLInputElement>(null);
  const [chosen, setWhat] = useState<What>('later');
  const [earlierMm, setEarlierMm] = useState(1000);
  /** The place for which the button was pressed once. */
  const [armed, setArmed] = useState<{ readonly mm: number; readonly at: number } | null>(null);
  const [busy, setBusy] = useState(false);
  useEffect(() => {
    first.current?.focus();
    return () => {
      requestAnimationFrame(() => {
        if (document.activeElement === document.body) document.getElementById('ask-bounds')?.focus();
      });
    };
  }, []);
  const last = spool.ordinal === run.spools;
  const what = chosen === 'changed' && !last ? 'later' : chosen;
  /** NaN = none. */
  const givenMm = what === 'earlier' ? earlierMm : (model.bounds.value ?? Number.NaN);
  const setGiven = (mm: number) => {
    if (what === 'earlier') setEarlierMm(mm);
    else model.bounds.value = mm;
  };
  const ready = what === 'earlier' ? givenMm > 0 : givenMm >= LEAST_MM && givenMm <= spool.woundMm - LEAST_MM;
  const sure = armed?.mm === givenMm;
  const problem = model.saveProblem.value;

  const submit = async () => {
    if (!ready || busy) return;
    if (what === 'changed' && !sure) {
      setArmed({ mm: givenMm, at: performance.now() });
      return;
    }
    if (what === 'changed' && performance.now() - (armed?.at ?? 0) < DOUBLE_PRESS_MS) return;
    setBusy(true);
    if (what === 'changed') await model.splitAt(spool, givenMm);
    else await model.moveStart(spool, what === 'later' ? givenMm : -givenMm);
    setBusy(false);
  };
  return (
    <form
      class="section-editor"
      aria-labelledby="bounds-title"
      onSubmit={(event) => {
        event.preventDefault();
        void submit();
      }}
      onKeyDown={(event) => {
        if (event.key === 'Escape') model.cancel();
      }}
    >
      <h2 id="bounds-title">Where this spool starts</h2>
      <fieldset class="switch" aria-label="What the line got wrong">
        {(Object.keys(WHAT_TEXT) as What[])
          .filter((one) => one !== 'changed' || last)
          .map((one) => (
            <label key={one}>
              <input
                ref={one === 'later' ? first : null}
                type="radio"
                name="bounds-what"
                checked={what === one}
                onChange={() => {
                  setWhat(one);
                  setArmed(null);
                  model.saveProblem.value = null;
                }}
              />
              <span>{WHAT_TEXT[one]}</span>
            </label>
          ))}
      </fieldset>
      <NumberField
        id="bounds-place"
        label={FIELD_TEXT[what]}
        value={Number.isNaN(givenMm) ? null : givenMm / 1000}
        digits={3}
        unit="m"
        set={(m) => setGiven(m === null ? Number.NaN : m * 1000)}
      />
      <p class="fine" aria-live="polite">
        {consequence(what, givenMm, ready, detail)}
      </p>
      {problem && <ProblemNote problem={problem} />}
      <p class="actions">
        <button type="submit" class="main" disabled={!ready || busy}>
          {what !== 'changed' ? 'Save' : sure ? 'Yes, split it for good' : 'Split into two spools'}
        </button>
        <button type="button" onClick={() => model.cancel()}>
          Cancel
        </button>
      </p>
    </form>
  );
}

function consequence(what: What, givenMm: number, ready: boolean, { spool }: SpoolDetail): string {
  const lengthMm = spool.woundMm;
  if (what === 'earlier') {
    if (!ready) return 'Enter a length above zero.';
    return `Adds ${metres(givenMm, 3)} m of earlier strand: the spool is then ${metres(lengthMm + givenMm, 3)} m long. Added strand that was measured is judged.`;
  }
  if (!ready) return `Enter a place on the spool, from 0 to ${metres(lengthMm, 3)} m, or press on the strand.`;
  if (what === 'later') {
    return `The first ${metres(givenMm, 3)} m is not on it, ${metres(lengthMm - givenMm, 3)} m remains.`;
  }
  return `Spool ${spool.ordinal} ends there, ${metres(givenMm, 3)} m long. The ${metres(lengthMm - givenMm, 3)} m after that become spool ${spool.ordinal + 1}. This cannot be undone.`;
}
