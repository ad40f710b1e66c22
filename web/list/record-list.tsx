import { type Signal, signal } from '@preact/signals';
import type { ComponentChildren } from 'preact';
import { useState } from 'preact/hooks';
import { preparationOnly, valuesText } from '../../server/preparation/fields.ts';
import { ChoiceField } from '../form/field.tsx';
import { counted, metres } from '../format/numbers.ts';
import { ExampleMark } from '../shell/example-mark.tsx';
import { Shape, type ShapeOf } from '../shell/shape.tsx';
import {
  ANY,
  blobsPer100M,
  choicesIn,
  filtered,
  type Listed,
  type ListFilter,
  type ListOrder,
  type ListWords,
  materialOf,
  ordered,
} from './list-order.ts';

/** What a list shows of a row besides its figures. */
interface RowText {
  readonly href: string;
  readonly title: string;
  /** '' = none. */
  readonly mark: string;
  readonly example: boolean;
  /** Number, date and time. */
  readonly fine: string;
  readonly verdict: { readonly text: string; readonly shape: ShapeOf };
  readonly reason: string;
}

/** A list of runs or of spools. Its filter is kept while the page is open, so that a look at a row does not lose the place. */
export interface ListKind<Row extends Listed> extends ListWords<Row> {
  readonly one: string;
  readonly filter: Signal<ListFilter>;
  readonly order: Signal<ListOrder>;
  readonly text: (row: Row) => RowText;
}

export function listKind<Row extends Listed>(
  one: string,
  words: ListWords<Row>,
  text: (row: Row) => RowText,
): ListKind<Row> {
  return { ...words, one, text, filter: signal(ANY), order: signal<ListOrder>('newest') };
}

const ORDERS = [
  ['newest', 'Newest first'],
  ['good', 'Most good strand first'],
  ['blobs', 'Fewest blobs first'],
  ['spread', 'Steadiest diameter first'],
] as const satisfies readonly (readonly [ListOrder, string])[];

/** Rows are added when asked for: a long list takes its time to lay out on a phone. */
const ROWS_AT_ONCE = 60;

interface Props<Row extends Listed> {
  readonly kind: ListKind<Row>;
  readonly rows: readonly Row[];
  /** The older ones are there, too. */
  readonly complete: boolean;
}

/** All runs or spools as a table to scan: verdict, material and figures of each. */
export function RecordList<Row extends Listed>({ kind, rows, complete }: Props<Row>) {
  const [most, setMost] = useState(ROWS_AT_ONCE);
  const { one, filter, order } = kind;
  const found = ordered(filtered(rows, filter.value, kind), order.value);
  const shown = found.slice(0, most);
  return (
    <>
      <Filters kind={kind} rows={rows} />
      <p class="fine run-count" role="status">
        {countText(one, found.length, rows.length, complete)}
        {found.length < rows.length && (
          <button type="button" class="plain" onClick={() => (filter.value = ANY)}>
            Show all
          </button>
        )}
      </p>
      {found.length > 0 && (
        <table class="run-list">
          <caption class="visually-hidden">
            All {one}s, {ORDERS.find(([name]) => name === order.value)?.[1].toLowerCase()}
          </caption>
          <thead>
            <tr>
              <th scope="col">{one === 'run' ? 'Run' : 'Spool'}</th>
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
            {shown.map((row) => (
              <ListRow key={row.id} kind={kind} row={row} />
            ))}
          </tbody>
        </table>
      )}
      {shown.length < found.length && (
        <p class="actions">
          <button type="button" onClick={() => setMost(most + 4 * ROWS_AT_ONCE)}>
            Show {Math.min(4 * ROWS_AT_ONCE, found.length - shown.length)} more
          </button>
        </p>
      )}
    </>
  );
}

function countText(one: string, found: number, all: number, complete: boolean): string {
  if (!complete) return `Reading the older ${one}s …`;
  if (found === all) return counted(all, one);
  return found === 0 ? `None of ${counted(all, one)} matches.` : `${found} of ${counted(all, one)} match.`;
}

function Filters<Row extends Listed>({ kind, rows }: Pick<Props<Row>, 'kind' | 'rows'>) {
  const { filter, order } = kind;
  const choices = choicesIn(rows, kind);
  const { verdict, material, preparation } = filter.value;
  const set = (more: Partial<ListFilter>) => {
    filter.value = { ...filter.value, ...more };
  };
  const choose = (label: string, key: 'material' | 'preparation' | 'verdict'): ComponentChildren =>
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
        <label for="list-search">Search</label>
        <input
          id="list-search"
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

function ListRow<Row extends Listed>({ kind, row }: { kind: ListKind<Row>; row: Row }) {
  const { href, title, mark, example, fine, verdict, reason } = kind.text(row);
  const rate = blobsPer100M(row);
  const preparation = valuesText(preparationOnly(row.lot?.values ?? {}));
  return (
    <tr data-testid={kind.one} data-run={row.id}>
      <th scope="row">
        <a href={href}>{title}</a>
        {example && <ExampleMark />}
        {mark !== '' && <span class="example-mark">{mark}</span>}
        <span class="fine">{fine}</span>
      </th>
      <td class="run-word-cell">
        <span class="run-verdict">
          <Shape of={verdict.shape} size={18} /> {verdict.text}
        </span>
        <span class="fine">{reason}</span>
      </td>
      <td class="run-material">
        {materialOf(row) || <span class="quiet">Not entered</span>}
        {preparation && <span class="fine">{preparation}</span>}
      </td>
      <td class="figure" data-title="Good">
        {row.woundMm > 0 ? (
          <>
            {metres(row.keptMm, 1)} <span class="fine">of {metres(row.woundMm, 1)}</span>
          </>
        ) : (
          '–'
        )}
      </td>
      <td class="figure" data-title="Blobs per 100 m">
        {rate === null ? '–' : rate.toFixed(1)}
      </td>
      <td class="figure" data-title="σ, mm">
        {row.diameterSdMm?.toFixed(3) ?? '–'}
      </td>
      <td class="run-note">{row.note}</td>
    </tr>
  );
}
