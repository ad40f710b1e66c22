import type { SectionView, SpoolView } from '../../server/api/contract/runs-and-spools.ts';
import type { DiameterLimits } from '../chart/diameter-scale.ts';
import { NumberField } from '../form/number-field.tsx';
import { TextField } from '../form/text-field.tsx';
import { sectionName, VERDICT_TEXT } from '../format/names.ts';
import { length, metres } from '../format/numbers.ts';
import { ProblemNote } from '../shell/problem-note.tsx';
import { CloseUp } from './close-up.tsx';
import type { SpoolModel } from './spool-model.ts';

const VERDICTS = ['discard', 'doubtful', 'good'] as const;

/** Marks a new stretch, or adjusts one: its ends, its verdict and a note. */
export function SectionEditor({
  model,
  spool,
  limits,
}: {
  model: SpoolModel;
  spool: SpoolView;
  limits: DiameterLimits;
}) {
  const lengthMm = spool.woundMm;
  const draft = model.draft.value;
  if (!draft) return null;
  const section = model.detail.value?.sections.find((one) => one.id === draft.id);
  const problem = model.saveProblem.value;
  const onSpool = (m: number) => Math.min(lengthMm, Math.max(0, m * 1000));
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
      <h2 id="draft-title">{section ? `Adjust: ${sectionName(section).toLowerCase()}` : 'Mark this stretch'}</h2>
      <CloseUp key={model.editor} model={model} draft={draft} spool={spool} limits={limits} />
      <div class="field-pair">
        <NumberField
          id="draft-from"
          label="From, m from the inner end"
          value={draft.fromMm / 1000}
          digits={3}
          whenLeft
          set={(m) => m !== null && model.select(onSpool(m), draft.toMm)}
        />
        <NumberField
          id="draft-to"
          label="To, m from the inner end"
          value={draft.toMm / 1000}
          digits={3}
          whenLeft
          set={(m) => m !== null && model.select(draft.fromMm, onSpool(m))}
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
            <span>{VERDICT_TEXT[verdict]}</span>
          </label>
        ))}
      </fieldset>
      <TextField
        label="Note"
        maxLength={500}
        value={draft.note}
        set={(note) => {
          model.draft.value = { ...draft, note };
        }}
      />
      {problem && <ProblemNote problem={problem} />}
      <p class="actions">
        <button type="submit" class="main">
          {section ? 'Save' : 'Mark it'}
        </button>
        <button type="button" onClick={() => model.cancel()}>
          Cancel
        </button>
        {section && (
          <button type="button" class="plain" onClick={() => model.remove(section)}>
            {section.origin === 'user' ? 'Remove' : 'Dismiss'}
          </button>
        )}
        {section?.origin === 'adjusted' && (
          <button type="button" class="plain" onClick={() => model.restore(section)}>
            As measured
          </button>
        )}
      </p>
    </form>
  );
}
