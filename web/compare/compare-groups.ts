import type { RunView } from '../../server/api/contract/runs-and-spools.ts';
import { alikeText } from '../../server/strand/comparison/preparation.ts';

/** Groups of runs, by their ids. The others are compared with the first. */
export type Groups = readonly (readonly number[])[];

export const GROUPS_MAX = 6;
export const RUNS_MAX = 24;

/** The page of such groups: /compare/3,5/4,6 */
export function pathOf(groups: Groups): string {
  return ['/compare', ...groups.filter((ids) => ids.length > 0).map((ids) => ids.join(','))].join('/');
}

/** Groups runs whose preparation has the same text, in order of time. */
export function groupedByText(runs: readonly Pick<RunView, 'id' | 'lot' | 'startedMs'>[]): Groups {
  const groups: { readonly lot: RunView['lot']; readonly ids: number[] }[] = [];
  for (const { id, lot } of runs.toSorted((a, b) => a.startedMs - b.startedMs)) {
    const same = groups.find((group) => alikeText(group.lot, lot));
    if (same) same.ids.push(id);
    else groups.push({ lot, ids: [id] });
  }
  // If all are alike, each run is a group.
  const [only, ...others] = groups;
  if (only && others.length === 0) return only.ids.map((id) => [id]);
  return groups.map(({ ids }) => ids);
}

/** Moves one run to another group and drops a group that is then empty. */
export function regrouped(groups: Groups, runId: number, to: number): Groups {
  const without = groups.map((ids) => ids.filter((id) => id !== runId));
  const moved =
    to < without.length ? without.map((ids, i) => (i === to ? [...ids, runId] : ids)) : [...without, [runId]];
  return moved.filter((ids) => ids.length > 0);
}

export function groupMark(group: number): string {
  return String.fromCharCode(65 + group);
}
