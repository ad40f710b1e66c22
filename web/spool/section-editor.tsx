import { useEffect, useState } from 'preact/hooks';
import type { SectionView } from '../../server/api/contract/runs-and-spools.ts';
import { ProblemNote } from '../shell/problem-note.tsx';
import { KIND_WORDS, VERDICT_WORDS } from '../words/names.ts';
import { length, metres, parseNumber } from '../words/numbers.ts';
import type { SpoolModel } from './spool-model.ts';

const VERDICTS = ['discard', 'doubtful', 'good'] as const;

/** Marks a new stretch, or adjusts one: its edges in metres, what to do with it, and a note. */
export function SectionEditor({ model, lengthMm }: { model: SpoolModel; lengthMm: number }) {
  const draft = model.draft.value;
  if (!draft) return null;
  const section = model.detail.value?.sections.find((one) => one.id === draft.id);
  const problem = model.saveProblem.value;
  return (
    <form
      class="section-editor"
      aria-labelledby="draft-title"
      onSubmit={(event) => {
        event.preventDefault();
        void model.save();
      }}
      onKeyDown={(event) => {
        if (event.key === 'Escape') model.cancel();
      }}
    >
      <h2 id="draft-title">{section ? `Adjust: ${KIND_WORDS[section.kind].toLowerCase()}` : 'Mark this stretch'}</h2>
      <div class="field-pair">
        <MetreField
          id="draft-from"
          label="From, m from the inner end"
          mm={draft.fromMm}
          most={lengthMm}
          set={(mm) => model.select(mm, draft.toMm)}
        />
        <MetreField
          id="draft-to"
          label="To, m from the inner end"
          mm={draft.toMm}
          most={lengthMm}
          set={(mm) => model.select(draft.fromMm, mm)}
        />
      </div>
      <p class="fine">
        {length(draft.toMm - draft.fromMm)} long; from the outer end {metres(lengthMm - draft.toMm, 3)} to{' '}
        {metres(lengthMm - draft.fromMm, 3)} m.
      </p>
      <fieldset class="switch">
        <legend>Verdict</legend>
        {VERDICTS.map((verdict: SectionView['verdict']) => (
          <label key={verdict}>
            <input
              type="radio"
              name="verdict"
              checked={draft.verdict === verdict}
              onChange={() => {
                model.draft.value = { ...draft, verdict };
              }}
            />
            <span>{VERDICT_WORDS[verdict]}</span>
          </label>
        ))}
      </fieldset>
      <label class="field">
        <span>Note</span>
        <input
          type="text"
          maxLength={500}
          value={draft.note}
          onInput={(event) => {
            model.draft.value = { ...draft, note: event.currentTarget.value };
          }}
        />
      </label>
      {problem && <ProblemNote problem={problem} />}
      <p class="actions">
        <button type="submit" class="main">
          {section ? 'Save' : 'Add section'}
        </button>
        <button type="button" onClick={() => model.cancel()}>
          Cancel
        </button>
        {section && (
          <button type="button" class="plain" onClick={() => model.remove(section)}>
            {section.origin === 'person' ? 'Remove' : 'Dismiss'}
          </button>
        )}
        {section?.origin === 'adjusted' && (
          <button type="button" class="plain" onClick={() => model.restore(section).then(() => model.cancel())}>
            As measured
          </button>
        )}
      </p>
    </form>
  );
}

function MetreField(props: { id: string; label: string; mm: number; most: number; set: (mm: number) => void }) {
  const [text, setText] = useState<string | null>(null);
  const wrong = text !== null && parseNumber(text) === null;
  useEffect(() => setText(null), [props.mm]);
  return (
    <label class="field">
      <span>{props.label}</span>
      <input
        id={props.id}
        inputMode="decimal"
        aria-invalid={wrong}
        value={text ?? (props.mm / 1000).toFixed(3)}
        onInput={(event) => setText(event.currentTarget.value)}
        onBlur={() => {
          const m = text === null ? null : parseNumber(text);
          if (m !== null) props.set(Math.min(props.most, Math.max(0, m * 1000)));
          setText(null);
        }}
        onKeyDown={(event) => {
          if (event.key === 'Enter') event.currentTarget.blur();
        }}
      />
    </label>
  );
}
