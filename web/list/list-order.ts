import type { RunView } from '../../server/api/contract/runs-and-spools.ts';
import { keysInOrder, type Value, valuesText, valueText } from '../../server/preparation/fields.ts';

/** What runs and spools have in common, to be found and ordered by. */
export type Listed = Pick<
  RunView,
  'id' | 'lot' | 'title' | 'note' | 'woundMm' | 'unknownMm' | 'keptMm' | 'blobs' | 'diameterSdMm'
>;

/** What only runs, or only spools, say about themselves. */
export interface ListWords<Row> {
  /** "Good after cutting". */
  readonly verdict: (row: Row) => string;
  /** What else a search finds, such as its number. */
  readonly more: (row: Row) => string;
}

/** What a list shows. '' = any. */
export interface ListFilter {
  readonly search: string;
  readonly material: string;
  /** Such as "dryingH=8". */
  readonly preparation: string;
  readonly verdict: string;
}

export const ANY: ListFilter = { search: '', material: '', preparation: '', verdict: '' };

export type ListOrder = 'newest' | 'good' | 'blobs' | 'spread';

/** null = nothing was measured. */
export function blobsPer100M({ blobs, woundMm, unknownMm }: Listed): number | null {
  const measuredMm = woundMm - unknownMm;
  return measuredMm > 0 ? (blobs * 100_000) / measuredMm : null;
}

export function materialOf({ lot }: Pick<Listed, 'lot'>): string {
  return lot?.name ?? '';
}

/** Every word must be somewhere in the row. */
export function filtered<Row extends Listed>(
  rows: readonly Row[],
  { search, material, preparation, verdict }: ListFilter,
  words: ListWords<Row>,
): Row[] {
  const wanted = search.toLowerCase().split(/\s+/).filter(Boolean);
  return rows.filter((row) => {
    if (material !== '' && materialOf(row) !== material) return false;
    if (verdict !== '' && words.verdict(row) !== verdict) return false;
    if (preparation !== '' && !preparationKeys(row).includes(preparation)) return false;
    const text = [
      words.more(row),
      row.title,
      row.note,
      materialOf(row),
      row.lot?.preparation,
      valuesText(row.lot?.values ?? {}),
      words.verdict(row),
    ].join(' ');
    return wanted.every((word) => text.toLowerCase().includes(word));
  });
}

function preparationKeys({ lot }: Listed): string[] {
  return Object.entries(lot?.values ?? {}).map(([key, value]) => `${key}=${value}`);
}

/** What can be chosen in each filter, as [value, text], without the one for any. */
export function choicesIn<Row extends Listed>(rows: readonly Row[], words: ListWords<Row>) {
  const sorted = (texts: readonly string[]) =>
    [...new Set(texts)].filter(Boolean).toSorted((a, b) => a.localeCompare(b));
  const same = (text: string) => [text, text] as const;
  const values = rows.flatMap(({ lot }) => Object.entries(lot?.values ?? {}));
  const pairs = new Map(values.map(([key, value]) => [`${key}=${value}`, [key, value] as const]));
  const order = keysInOrder(Object.fromEntries(values));
  return {
    material: sorted(rows.map(materialOf)).map(same),
    verdict: sorted(rows.map(words.verdict)).map(same),
    preparation: [...pairs]
      .toSorted(([, [a, x]], [, [b, y]]) => order.indexOf(a) - order.indexOf(b) || compareValues(x, y))
      .map(([pair, [key, value]]) => [pair, valueText(key, value)] as const),
  };
}

function compareValues(a: Value, b: Value): number {
  return typeof a === 'number' && typeof b === 'number' ? a - b : String(a).localeCompare(String(b));
}

const FIGURES: Record<Exclude<ListOrder, 'newest'>, (row: Listed) => number | null> = {
  good: ({ woundMm, keptMm }) => (woundMm > 0 ? -keptMm : null),
  blobs: blobsPer100M,
  spread: ({ diameterSdMm }) => diameterSdMm,
};

/** The best first, and rows without that figure last. `newest` = as the service lists them. */
export function ordered<Row extends Listed>(rows: readonly Row[], by: ListOrder): readonly Row[] {
  if (by === 'newest') return rows;
  const figure = FIGURES[by];
  const last = Number.POSITIVE_INFINITY;
  return rows.toSorted((a, b) => {
    const [x, y] = [figure(a) ?? last, figure(b) ?? last];
    return x === y ? 0 : x - y;
  });
}
