import { useEffect, useState } from 'preact/hooks';
import type { LotsView } from '../../server/api/contract/runs-and-spools.ts';
import { fieldOf, keysInOrder, PREPARATION_FIELDS, type Value, type Values } from '../../server/preparation/fields.ts';
import { ChoiceField } from '../form/field.tsx';
import { counted } from '../format/numbers.ts';
import { shortDay } from '../format/times.ts';
import { call } from '../service/call.ts';
import { refetchVersion } from '../service/live-store.ts';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { may } from '../service/session.ts';
import { showNotice } from '../shell/notice.tsx';
import { ProblemNote } from '../shell/problem-note.tsx';
import { ScrollTable } from '../shell/scroll-table.tsx';
import { FieldInput, OwnField, valuesOf } from './field-inputs.tsx';
import { changesBetween, type LotBefore, untouchedSince } from './lot-undo.ts';

type RunLot = LotsView['runs'][number];

/** The material and preparation of all runs in one table, where several can be changed at once. */
export default function PreparationPage() {
  const [view, setView] = useState<LotsView | null>(null);
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const [chosen, setChosen] = useState<ReadonlySet<number>>(new Set());
  const version = refetchVersion.value;
  const use = (answer: LotsView) => {
    setView(answer);
    setProblem(null);
  };
  const fail = (thrown: unknown) => setProblem(asProblem(thrown));
  useEffect(() => {
    call('GET /api/lots').then(use, fail);
  }, [version]);
  const change = async (body: { runIds: number[]; values?: Record<string, Value | null>; confirm?: boolean }) => {
    const before = view?.runs ?? [];
    try {
      const after = await call('POST /api/lots', { body });
      use(after);
      const text = `Saved for ${counted(body.runIds.length, 'run')}. Earlier entries stay in the log.`;
      showNotice({ text, undo: () => void undo(changesBetween(before, after.runs)) });
    } catch (thrown) {
      fail(thrown);
    }
  };
  const undo = async (changes: readonly LotBefore[]) => {
    try {
      const untouched = untouchedSince(changes, (await call('GET /api/lots')).runs);
      for (const { runId, before } of untouched) {
        const { name, preparation, values } = before ?? { name: '', preparation: '', values: {} };
        await call('PUT /api/runs/:id/lot', { params: { id: runId }, body: { name, preparation, values } });
      }
      use(await call('GET /api/lots'));
      const kept = counted(changes.length - untouched.length, 'run was', 'runs were');
      const others = untouched.length === changes.length ? '' : ` ${kept} changed again, and not undone.`;
      showNotice({ text: `Undone for ${counted(untouched.length, 'run')}.${others}` });
    } catch (thrown) {
      fail(thrown);
    }
  };
  const waiting = (view?.runs ?? []).filter(({ proposed }) => Object.keys(proposed).length > 0);
  return (
    <section class="preparation">
      <header class="page-head">
        <h1>Material and preparation</h1>
        <p>What each run was fed with. Choose runs to change a field in all of them at once.</p>
      </header>
      {problem && <ProblemNote problem={problem} />}
      {waiting.length > 0 && (
        <p>
          In {counted(waiting.length, 'run')}, fields were read from earlier text; they are in italics.{' '}
          {may('act') && (
            <button
              type="button"
              onClick={() => void change({ runIds: waiting.map(({ runId }) => runId), confirm: true })}
            >
              Confirm all of them
            </button>
          )}
        </p>
      )}
      {view && view.runs.length === 0 && <p class="quiet">No runs yet.</p>}
      {view && view.runs.length > 0 && (
        <>
          {may('act') && (
            <ChangeForm
              runs={view.runs}
              chosen={chosen}
              choose={setChosen}
              save={(values) => void change({ runIds: [...chosen], values })}
            />
          )}
          <LotTable runs={view.runs} chosen={chosen} choose={setChosen} />
        </>
      )}
    </section>
  );
}

interface Choosing {
  readonly runs: readonly RunLot[];
  readonly chosen: ReadonlySet<number>;
  readonly choose: (chosen: ReadonlySet<number>) => void;
}

function ChangeForm({
  runs,
  chosen,
  choose,
  save,
}: Choosing & { save: (values: Record<string, Value | null>) => void }) {
  const [own, setOwn] = useState<readonly string[]>([]);
  const [key, setKey] = useState<string>('dryingH');
  const [text, setText] = useState('');
  const used = keysInOrder(Object.assign({}, ...runs.map(({ lot }) => lot?.values)));
  const keys = [...new Set([...PREPARATION_FIELDS.map((field) => field.key), ...used, ...own])];
  const pick = (next: string) => {
    setKey(next);
    setText('');
  };
  return (
    <form
      class="preparation-change no-print"
      aria-label="Change several runs"
      onSubmit={(event) => {
        event.preventDefault();
        save({ [key]: valuesOf({ [key]: text })[key] ?? null });
      }}
    >
      <p class="actions">
        <strong>{chosen.size === 0 ? 'No run chosen' : `${counted(chosen.size, 'run')} chosen`}</strong>
        <button type="button" class="plain" onClick={() => choose(new Set(runs.map(({ runId }) => runId)))}>
          Choose all
        </button>
        <button type="button" class="plain" disabled={chosen.size === 0} onClick={() => choose(new Set())}>
          Choose none
        </button>
      </p>
      <div class="preparation-fields">
        <ChoiceField
          label="Field"
          value={key}
          choices={keys.map((one) => [one, fieldOf(one).title] as const)}
          set={pick}
        />
        <FieldInput of={key} text={text} set={setText} />
        <p class="actions">
          <button type="submit" class="main" disabled={chosen.size === 0}>
            {text.trim() === '' ? 'Clear this field' : 'Save'}
          </button>
        </p>
      </div>
      <OwnField
        add={(added) => {
          setOwn([...own, added]);
          pick(added);
        }}
      />
    </form>
  );
}

function LotTable({ runs, chosen, choose }: Choosing) {
  const all: Values = Object.assign({}, ...runs.map(({ lot, proposed }) => ({ ...proposed, ...lot?.values })));
  const keys = keysInOrder(all);
  return (
    <ScrollTable label="Material and preparation of all runs">
      <table class="preparation-table">
        <thead>
          <tr>
            <th scope="col">Run</th>
            <th scope="col">Material</th>
            {keys.map((key) => {
              const { title, unit } = fieldOf(key);
              return (
                <th key={key} scope="col">
                  {title}
                  {unit !== '' && <span class="fine">, {unit}</span>}
                </th>
              );
            })}
            <th scope="col">Anything else</th>
          </tr>
        </thead>
        <tbody>
          {runs.map(({ runId, startedMs, timeZone, lot, proposed }) => (
            <tr key={runId} data-testid="lot-row">
              <th scope="row">
                <label>
                  <input
                    type="checkbox"
                    class="no-print"
                    checked={chosen.has(runId)}
                    onChange={({ currentTarget: { checked } }) => {
                      const next = new Set(chosen);
                      if (checked) next.add(runId);
                      else next.delete(runId);
                      choose(next);
                    }}
                  />{' '}
                  Run {runId} <span class="fine">{shortDay(startedMs, timeZone)}</span>
                </label>
              </th>
              <td>{lot?.name || <a href={`/runs/${runId}`}>Add material…</a>}</td>
              {keys.map((key) => (
                <Cell key={key} value={lot?.values[key]} proposed={proposed[key]} />
              ))}
              <td class="words">{lot?.preparation}</td>
            </tr>
          ))}
        </tbody>
      </table>
    </ScrollTable>
  );
}

function Cell({ value, proposed }: { value: Value | undefined; proposed: Value | undefined }) {
  const shown = value ?? proposed;
  if (shown === undefined) return <td class="quiet">–</td>;
  const text = shown === true ? 'yes' : shown === false ? 'no' : String(shown);
  return value === undefined ? (
    <td class="proposed" title="Read from earlier text, not confirmed">
      {text}?
    </td>
  ) : (
    <td>{text}</td>
  );
}
