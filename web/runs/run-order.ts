import type { RunView } from '../../server/api/contract/runs-and-spools.ts';
import { keysInOrder, type Value, valuesText, valueText } from '../../server/preparation/fields.ts';
import { verdictWord } from './verdict-text.ts';

/** What the list of runs shows. '' = any. */
export interface RunFilter {
  readonly search: string;
  readonly material: string;
  /** Such as "dryingH=8". */
  readonly preparation: string;
  readonly verdict: string;
}

export const ANY_RUN: RunFilter = { search: '', material: '', preparation: '', verdict: '' };

export type RunOrder = 'newest' | 'good' | 'blobs' | 'spread';

/** null = nothing was measured. */
export function blobsPer100M({ blobs, woundMm, unknownMm }: RunView): number | null {
  const measuredMm = woundMm - unknownMm;
  return measuredMm > 0 ? (blobs * 100_000) / measuredMm : null;
}

export function materialOf({ lot }: RunView): string {
  return lot?.name ?? '';
}

/** Every word must be somewhere in the row. */
export function filtered(runs: readonly RunView[], { search, material, preparation, verdict }: RunFilter): RunView[] {
  const words = search.toLowerCase().split(/\s+/).filter(Boolean);
  return runs.filter((run) => {
    if (material !== '' && materialOf(run) !== material) return false;
    if (verdict !== '' && verdictWord(run).text !== verdict) return false;
    if (preparation !== '' && !preparationKeys(run).includes(preparation)) return false;
    const text = [
      `run ${run.id} r${run.id}`,
      run.title,
      run.note,
      materialOf(run),
      run.lot?.preparation,
      valuesText(run.lot?.values ?? {}),
      verdictWord(run).text,
      run.isTest ? 'test' : '',
    ].join(' ');
    return words.every((word) => text.toLowerCase().includes(word));
  });
}

function preparationKeys({ lot }: RunView): string[] {
  return Object.entries(lot?.values ?? {}).map(([key, value]) => `${key}=${value}`);
}

/** What can be chosen in each filter, as [value, text], without the one for any. */
export function choicesIn(runs: readonly RunView[]) {
  const sorted = (texts: readonly string[]) =>
    [...new Set(texts)].filter(Boolean).toSorted((a, b) => a.localeCompare(b));
  const same = (text: string) => [text, text] as const;
  const values = runs.flatMap(({ lot }) => Object.entries(lot?.values ?? {}));
  const pairs = new Map(values.map(([key, value]) => [`${key}=${value}`, [key, value] as const]));
  const order = keysInOrder(Object.fromEntries(values));
  return {
    material: sorted(runs.map(materialOf)).map(same),
    verdict: sorted(runs.map((run) => verdictWord(run).text)).map(same),
    preparation: [...pairs]
      .toSorted(([, [a, x]], [, [b, y]]) => order.indexOf(a) - order.indexOf(b) || compareValues(x, y))
      .map(([pair, [key, value]]) => [pair, valueText(key, value)] as const),
  };
}

function compareValues(a: Value, b: Value): number {
  return typeof a === 'number' && typeof b === 'number' ? a - b : String(a).localeCompare(String(b));
}

const FIGURES: Record<Exclude<RunOrder, 'newest'>, (run: RunView) => number | null> = {
  good: (run) => (run.woundMm > 0 ? -run.keptMm : null),
  blobs: blobsPer100M,
  spread: ({ diameterSdMm }) => diameterSdMm,
};

/** The best first, and runs without that figure last. `newest` = as the service lists them. */
export function ordered(runs: readonly RunView[], by: RunOrder): readonly RunView[] {
  if (by === 'newest') return runs;
  const figure = FIGURES[by];
  const last = Number.POSITIVE_INFINITY;
  return runs.toSorted((a, b) => {
    const [x, y] = [figure(a) ?? last, figure(b) ?? last];
    return x === y ? 0 : x - y;
  });
}
