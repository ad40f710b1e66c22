import { useEffect, useRef, useState } from 'preact/hooks';
import type { LotView } from '../../server/api/contract/runs-and-spools.ts';
import { TextField } from '../form/text-field.tsx';
import { lotText } from '../format/names.ts';
import { call } from '../service/call.ts';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { may } from '../service/session.ts';
import { showNotice } from '../shell/notice.tsx';
import { ProblemNote } from '../shell/problem-note.tsx';

interface Props {
  readonly runId: number;
  readonly lot: LotView | null;
  readonly changed?: () => void;
}

/** The material of the run and how it was prepared, as entered by a user. */
export function LotLine({ runId, lot, changed }: Props) {
  const [open, setOpen] = useState(false);
  return (
    <section class="lot" aria-labelledby="lot-title" data-testid="lot">
      <p class="lot-text">
        <span id="lot-title" class="lot-title">
          Material
        </span>{' '}
        {lot ? <span>{lotText(lot)}</span> : <span class="quiet">No material entered</span>}{' '}
        {!open && may('act') && (
          <button type="button" class="plain no-print" onClick={() => setOpen(true)}>
            {lot ? 'Change' : 'Add material…'}
          </button>
        )}
      </p>
      {open && (
        <LotForm
          runId={runId}
          lot={lot}
          close={() => {
            setOpen(false);
            changed?.();
          }}
        />
      )}
    </section>
  );
}

function LotForm({ runId, lot, close }: { runId: number; lot: LotView | null; close: () => void }) {
  const [name, setName] = useState(lot?.name ?? '');
  const [preparation, setPreparation] = useState(lot?.preparation ?? '');
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const [earlier, setEarlier] = useState<readonly LotView[]>([]);
  const first = useRef<HTMLInputElement>(null);
  useEffect(() => {
    first.current?.focus();
    // Suggestions, so that the same material gets the same name again. The field also works without them.
    call('GET /api/runs').then(
      (runs) => setEarlier(runs.flatMap((run) => (run.lot && run.lot.name !== '' ? [run.lot] : []))),
      () => {},
    );
  }, []);
  const save = async () => {
    try {
      await call('PUT /api/runs/:id/lot', { params: { id: runId }, body: { name, preparation } });
      showNotice({
        text: name.trim() === '' && preparation.trim() === '' ? 'Material removed.' : 'Material saved.',
      });
      close();
    } catch (thrown) {
      setProblem(asProblem(thrown));
    }
  };
  const pick = (chosen: string) => {
    setName(chosen);
    const known = earlier.find((one) => one.name === chosen);
    if (known && preparation.trim() === '') setPreparation(known.preparation);
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
      <TextField
        id="lot-preparation"
        label="How it was prepared"
        lines={2}
        maxLength={500}
        placeholder="Sorted, shredded to 4 mm, sieved, dried 8 h at 50 °C, 30 % new pellets"
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
