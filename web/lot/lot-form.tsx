import { useEffect, useRef, useState } from 'preact/hooks';
import type { LotsView, LotView } from '../../server/api/contract/runs-and-spools.ts';
import { preparationOnly } from '../../server/preparation/fields.ts';
import { readPreparation } from '../../server/preparation/read-text.ts';
import { TextField } from '../form/text-field.tsx';
import { call } from '../service/call.ts';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { showNotice } from '../shell/notice.tsx';
import { ProblemNote } from '../shell/problem-note.tsx';
import { type Draft, draftOf, FieldInputs, valuesOf } from './field-inputs.tsx';

/** The material of a run and its preparation. An empty form starts as the night before. */
export default function LotForm({ runId, lot, close }: { runId: number; lot: LotView | null; close: () => void }) {
  const read = readPreparation(lot?.preparation ?? '');
  const [name, setName] = useState(lot?.name ?? '');
  const [preparation, setPreparation] = useState(read.rest);
  const [draft, setDraft] = useState<Draft>(draftOf({ ...read.values, ...lot?.values }));
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const [runs, setRuns] = useState<LotsView['runs']>([]);
  const [before, setBefore] = useState<number | null>(null);
  const first = useRef<HTMLInputElement>(null);
  const use = (known: LotView) => {
    setPreparation(known.preparation);
    setDraft(draftOf(preparationOnly(known.values)));
  };
  useEffect(() => {
    first.current?.focus();
    // The fields also work without suggestions.
    call('GET /api/lots').then(
      (answer) => {
        setRuns(answer.runs);
        const at = answer.runs.findIndex((run) => run.runId === runId);
        const earlier = answer.runs.slice(at + 1).find((run) => run.lot !== null);
        if (lot !== null || at < 0 || !earlier?.lot) return;
        setName(earlier.lot.name);
        use(earlier.lot);
        setBefore(earlier.runId);
      },
      () => {},
    );
  }, []);
  const earlier = runs.flatMap((run) => (run.lot && run.lot.name !== '' ? [run.lot] : []));
  const isEmpty = name.trim() === '' && preparation.trim() === '' && Object.keys(valuesOf(draft)).length === 0;
  const save = async () => {
    try {
      const body = { name, preparation, values: valuesOf(draft) };
      await call('PUT /api/runs/:id/lot', { params: { id: runId }, body });
      showNotice({ text: isEmpty ? 'Material removed.' : 'Material saved.' });
      close();
    } catch (thrown) {
      setProblem(asProblem(thrown));
    }
  };
  const pick = (chosen: string) => {
    setName(chosen);
    const known = earlier.find((one) => one.name === chosen);
    if (known && preparation.trim() === '' && Object.keys(valuesOf(draft)).length === 0) use(known);
  };
  return (
    <form
      class="lot-form no-print"
      aria-label="Material"
      onSubmit={(event) => {
        event.preventDefault();
        void save();
      }}
    >
      {before !== null && (
        <p class="fine">
          Filled in as for <a href={`/runs/${before}`}>run {before}</a>, the last with a material. Change what was
          different, then save.
        </p>
      )}
      {Object.keys(read.values).length > 0 && (
        <p class="fine">Some fields were read from earlier text. Check them, then save.</p>
      )}
      <TextField
        inputRef={first}
        id="lot-name"
        label="Name of the material"
        maxLength={60}
        suggested={[...new Set(earlier.map((one) => one.name))]}
        placeholder="Grey supports, June"
        value={name}
        set={pick}
      />
      <FieldInputs draft={draft} set={setDraft} />
      <TextField
        id="lot-preparation"
        label="Anything else that was done"
        lines={2}
        maxLength={500}
        placeholder="Sorted by hand, shredded twice"
        value={preparation}
        set={setPreparation}
      />
      {problem && <ProblemNote problem={problem} />}
      <p class="actions">
        <button type="submit" class="main">
          Save
        </button>
        <button type="button" onClick={close}>
          Cancel
        </button>
      </p>
    </form>
  );
}
