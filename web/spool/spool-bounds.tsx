import { useState } from 'preact/hooks';
import type { SpoolDetail } from '../../server/api/contract.ts';
import { NumberField } from '../judgement/number-field.tsx';
import { ProblemNote } from '../shell/problem-note.tsx';
import { metres } from '../words/numbers.ts';
import type { SpoolModel } from './spool-model.ts';

type What = 'later' | 'earlier' | 'changed';

const WHAT_WORDS: Readonly<Record<What, string>> = {
  later: 'It begins later',
  earlier: 'It begins earlier',
  changed: 'It was changed',
};
const FIELD_WORDS: Readonly<Record<What, string>> = {
  later: 'Begins at, from the inner end',
  earlier: 'Earlier by',
  changed: 'Changed at, from the inner end',
};
/** A place on the spool must leave this much on either side, mm. */
const LEAST_MM = 10;

/** Says afterwards where the spool begins, or that it was changed while nobody said so. */
export function SpoolBounds({ model, detail }: { model: SpoolModel; detail: SpoolDetail }) {
  const placeMm = model.bounds.value;
  const [what, setWhat] = useState<What>('later');
  const [earlierM, setEarlierM] = useState<number | null>(1);
  const [sure, setSure] = useState(false);
  if (placeMm === null) return null;
  const { spool, run } = detail;
  const last = spool.ordinal === run.spools;
  const givenMm = what === 'earlier' ? (earlierM === null ? Number.NaN : earlierM * 1000) : placeMm;
  const on = givenMm >= LEAST_MM && givenMm <= spool.woundMm - LEAST_MM;
  const ready = what === 'earlier' ? givenMm > 0 : on;
  const problem = model.saveProblem.value;
  return (
    <form
      class="section-editor"
      aria-labelledby="bounds-title"
      onSubmit={(event) => {
        event.preventDefault();
        if (!ready) return;
        if (what !== 'changed') model.beginsAt(what === 'later' ? givenMm : -givenMm);
        else if (!sure) setSure(true);
        else model.wasChangedAt(givenMm);
      }}
      onKeyDown={(event) => {
        if (event.key === 'Escape') model.cancel();
      }}
    >
      <h2 id="bounds-title">Where this spool begins</h2>
      <fieldset class="switch" aria-label="What was not as the line took it">
        {(Object.keys(WHAT_WORDS) as What[])
          .filter((one) => one !== 'changed' || last)
          .map((one) => (
            <label key={one}>
              <input
                type="radio"
                name="bounds-what"
                checked={what === one}
                onChange={() => {
                  setWhat(one);
                  setSure(false);
                }}
              />
              <span>{WHAT_WORDS[one]}</span>
            </label>
          ))}
      </fieldset>
      {what === 'earlier' ? (
        <NumberField
          id="bounds-place"
          label={FIELD_WORDS[what]}
          value={earlierM}
          digits={3}
          unit="m"
          set={setEarlierM}
        />
      ) : (
        <NumberField
          id="bounds-place"
          label={FIELD_WORDS[what]}
          value={placeMm / 1000}
          digits={3}
          unit="m"
          set={(m) => {
            model.bounds.value = m === null ? Number.NaN : m * 1000;
            setSure(false);
          }}
        />
      )}
      <p class="fine" aria-live="polite">
        {consequence(what, givenMm, ready, detail)}
      </p>
      {problem && <ProblemNote problem={problem} />}
      <p class="actions">
        <button type="submit" class="main" disabled={!ready}>
          {what !== 'changed' ? 'Save' : sure ? 'Yes, two spools for good' : 'Make it two spools'}
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
    if (!ready) return 'Give a length above zero.';
    return `${metres(givenMm, 3)} m that passed before come to it: ${metres(lengthMm + givenMm, 3)} m in all. Strand that the line saw there is judged anew.`;
  }
  if (!ready) return `Give a place on the spool, from 0 to ${metres(lengthMm, 3)} m, or press on the strand.`;
  if (what === 'later') {
    return `The first ${metres(givenMm, 3)} m are not on it, ${metres(lengthMm - givenMm, 3)} m remain.`;
  }
  return `Spool ${spool.ordinal} ends there, ${metres(givenMm, 3)} m long. The ${metres(lengthMm - givenMm, 3)} m behind are spool ${spool.ordinal + 1}. The two cannot be made one again.`;
}
