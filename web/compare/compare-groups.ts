import type { RunView } from '../../server/api/contract/runs-and-spools.ts';
import { alikeText } from '../../server/strand/comparison/preparation.ts';

/** Groups of runs, as links name them: 3, or 2:3 for run 3 of the other line 2. The others are compared with the first. */
export type Groups = readonly (readonly string[])[];

export const GROUPS_MAX = 6;
export const RUNS_MAX = 24;

/** The page of such groups: /compare/3,5/4,2:6 */
export function pathOf(groups: Groups): string {
  return ['/compare', ...groups.filter((refs) => refs.length > 0).map((refs) => refs.join(','))].join('/');
}

/** A run to choose, of this line or another one. */
export interface ChoosableRun extends Pick<RunView, 'lot' | 'startedMs'> {
  readonly ref: string;
  readonly lineId: number;
}

/** Groups runs whose preparation has the same text, in order of time. If all are alike, each line is a group, or each run. */
export function groupedByText(runs: readonly ChoosableRun[]): Groups {
  const inOrder = runs.toSorted((a, b) => a.startedMs - b.startedMs);
  const alternatives = [
    grouped(inOrder, (a, b) => alikeText(a.lot, b.lot)),
    grouped(inOrder, (a, b) => a.lineId === b.lineId),
  ];
  return alternatives.find((groups) => groups.length > 1) ?? inOrder.map(({ ref }) => [ref]);
}

function grouped(runs: readonly ChoosableRun[], areAlike: (a: ChoosableRun, b: ChoosableRun) => boolean): Groups {
  const groups: { readonly first: ChoosableRun; readonly refs: string[] }[] = [];
  for (const run of runs) {
    const same = groups.find(({ first }) => areAlike(first, run));
    if (same) same.refs.push(run.ref);
    else groups.push({ first: run, refs: [run.ref] });
  }
  return groups.map(({ refs }) => refs);
}

/** Moves one run to another group and drops a group that is then empty. */
export function regrouped(groups: Groups, run: string, to: number): Groups {
  const without = groups.map((refs) => refs.filter((ref) => ref !== run));
  const moved =
    to < without.length ? without.map((refs, i) => (i === to ? [...refs, run] : refs)) : [...without, [run]];
  return moved.filter((refs) => refs.length > 0);
}

export function groupMark(group: number): string {
  return String.fromCharCode(65 + group);
}
