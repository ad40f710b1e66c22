import { signal } from '@preact/signals';
import { useState } from 'preact/hooks';
import type { RunView } from '../../server/api/contract/runs-and-spools.ts';
import { preparationOnly, valuesText } from '../../server/preparation/fields.ts';
import { ChoiceField } from '../form/field.tsx';
import { unreadableText } from '../format/names.ts';
import { counted, metres } from '../format/numbers.ts';
import { clock, dayOfYear, span } from '../format/times.ts';
import { ExampleMark } from '../shell/example-mark.tsx';
import { Shape } from '../shell/shape.tsx';
import {
  ANY_RUN,
  blobsPer100M,
  choicesIn,
  filtered,
  materialOf,
  ordered,
  type RunFilter,
  type RunOrder,
} from './run-order.ts';
import { troubleText, verdictWord } from './verdict-text.ts';

/** Kept while the page is open, so that a look at a run does not lose the place. */
const filter = signal<RunFilter>(ANY_RUN);
const order = signal<RunOrder>('newest');

const ORDERS = [
  ['newest', 'Newest first'],
  ['good', 'Most good strand first'],
  ['blobs', 'Fewest blobs first'],
  ['spread', 'Steadiest diameter first'],
] as const satisfies readonly (readonly [RunOrder, string])[];

/** Rows are added when asked for: a long list takes its time to lay out on a phone. */
const ROWS_AT_ONCE = 60;

/** All runs as a table to scan: verdict, material and figures of each. */
export function RunList({ runs, complete }: { runs: readonly RunView[]; complete: boolean }) {
  const [rows, setRows] = useState(ROWS_AT_ONCE);
  const found = ordered(filtered(runs, filter.value), order.value);
  const shown = found.slice(0, rows);
  return (
    <>
      <RunFilters runs={runs} />
      <p class="fine run-count" role="status">
        {countText(found.length, runs.length, complete)}
        {found.length < runs.length && (
          <button type="button" class="plain" onClick={() => (filter.value = ANY_RUN)}>
            Show all
          </button>
        )}
      </p>
      {found.length > 0 && (
        <table class="run-list">
          <caption class="visually-hidden">
            Runs, {ORDERS.find(([one]) => one === order.value)?.[1].toLowerCase()}
          </caption>
          <thead>
            <tr>
              <th scope="col">Run</th>
              <th scope="col">Verdict</th>
              <th scope="col">Material</th>
              <th scope="col" class="figure">
                Good, m
              </th>
              <th scope="col" class="figure">
                Blobs per 100 m
              </th>
              <th scope="col" class="figure">
                Spread σ, mm
              </th>
              <th scope="col">Note</th>
            </tr>
          </thead>
          <tbody>
            {shown.map((run) => (
              <RunRow key={run.id} run={run} />
            ))}
          </tbody>
        </table>
      )}
      {shown.length < found.length && (
        <p class="actions">
          <button type="button" onClick={() => setRows(rows + 4 * ROWS_AT_ONCE)}>
            Show {Math.min(4 * ROWS_AT_ONCE, found.length - shown.length)} more
          </button>
        </p>
      )}
    </>
  );
}

function countText(found: number, all: number, complete: boolean): string {
  if (!complete) return 'Reading the older runs …';
  if (found === all) return counted(all, 'run');
  return found === 0 ? `None of ${counted(all, 'run')} matches.` : `${found} of ${counted(all, 'run')} match.`;
}

function RunFilters({ runs }: { runs: readonly RunView[] }) {
  const choices = choicesIn(runs);
  const { verdict, material, preparation } = filter.value;
  const set = (more: Partial<RunFilter>) => {
    filter.value = { ...filter.value, ...more };
  };
  const choose = (label: string, key: 'material' | 'preparation' | 'verdict') =>
    choices[key].length > 1 && (
      <ChoiceField
        label={label}
        value={filter.value[key]}
        choices={[['', 'Any'], ...choices[key]]}
        set={(value) => set({ [key]: value })}
      />
    );
  return (
    <search class="run-filters no-print">
      <div class="field">
        <label for="run-search">Search</label>
        <input
          id="run-search"
          type="search"
          value={filter.value.search}
          onInput={(event) => set({ search: event.currentTarget.value })}
        />
      </div>
      <ChoiceField
        label="Order"
        value={order.value}
        choices={ORDERS}
        set={(value) => {
          order.value = value;
        }}
      />
      {(choices.verdict.length > 1 || choices.material.length > 1 || choices.preparation.length > 1) && (
        <details open={verdict !== '' || material !== '' || preparation !== ''}>
          <summary>By verdict, material or preparation</summary>
          <div>
            {choose('Verdict', 'verdict')}
            {choose('Material', 'material')}
            {choose('Preparation', 'preparation')}
          </div>
        </details>
      )}
    </search>
  );
}

function RunRow({ run }: { run: RunView }) {
  const word = verdictWord(run);
  const rate = blobsPer100M(run);
  const trouble = troubleText(run);
  const preparation = valuesText(preparationOnly(run.lot?.values ?? {}));
  return (
    <tr data-testid="run" data-run={run.id}>
      <th scope="row">
        <a href={`/runs/${run.id}`}>{run.title || `Run ${run.id}`}</a>
        {run.example && <ExampleMark />}
        {run.isTest && <span class="example-mark">Test</span>}
        <span class="fine">
          {run.title && `Run ${run.id}, `}
          {dayOfYear(run.startedMs, run.timeZone)}, {clock(run.startedMs, run.timeZone)},{' '}
          {run.endedMs === null ? 'still going' : span(run.endedMs - run.startedMs)}
        </span>
      </th>
      <td class="run-word-cell">
        <span class="run-verdict">
          <Shape of={word.shape} size={18} /> {word.text}
        </span>
        <span class="fine">
          {run.verdict.reason} {trouble} {run.unreadableRows > 0 && `${unreadableText(run.unreadableRows)}.`}
        </span>
      </td>
      <td class="run-material">
        {materialOf(run) || <span class="quiet">Not entered</span>}
        {preparation && <span class="fine">{preparation}</span>}
      </td>
      <td class="figure" data-title="Good">
        {run.woundMm > 0 ? (
          <>
            {metres(run.keptMm, 1)} <span class="fine">of {metres(run.woundMm, 1)}</span>
          </>
        ) : (
          '–'
        )}
      </td>
      <td class="figure" data-title="Blobs per 100 m">
        {rate === null ? '–' : rate.toFixed(1)}
      </td>
      <td class="figure" data-title="σ, mm">
        {run.diameterSdMm?.toFixed(3) ?? '–'}
      </td>
      <td class="run-note">{run.note}</td>
    </tr>
  );
}
