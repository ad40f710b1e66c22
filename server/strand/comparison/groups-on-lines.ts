import { type Difference, differenceOf, type Uncertain } from '../statistics/differences.ts';
import { combined, fitRegression, LEAST_VARIANCE } from '../statistics/regression.ts';

/** Something of a run, with the line that made it. */
export interface OnLine {
  readonly line: number;
}

/** A value of a run on the scale of comparison. */
export interface ValueOnLine extends OnLine {
  readonly value: number;
}

/**
 * The groups that share a line with the first one, directly or through other groups. Whether any other group differs
 * because of its runs or because of its line cannot be told.
 */
export function groupsLinkedWithFirst(groups: readonly (readonly OnLine[])[]): ReadonlySet<number> {
  const linked = new Set([0]);
  const lines = new Set(groups[0]?.map(({ line }) => line));
  for (let before = 0; before < linked.size; ) {
    before = linked.size;
    for (const [i, runs] of groups.entries()) {
      if (linked.has(i) || !runs.some(({ line }) => lines.has(line))) continue;
      linked.add(i);
      for (const { line } of runs) lines.add(line);
    }
  }
  return linked;
}

export function linesOf(runs: readonly OnLine[]): readonly number[] {
  return [...new Set(runs.map(({ line }) => line))];
}

/** What groups of runs on several lines have in common and what not, with the differences between the lines taken out. */
export interface GroupsOnLines {
  /** As it would be if all groups had been made on the lines in equal parts. */
  mean(group: number): Uncertain;
  /** A later group minus the first. */
  difference(group: number): Difference;
}

/**
 * Compares groups within lines, because runs of one line are alike: least squares with an effect of each group and of each
 * line, which for two groups and one run of each on every line is the paired t test.
 * @param groups all linked with the first
 * @returns null = too few runs for so many groups and lines, or they do not differ
 */
export function compareWithinLines(groups: readonly (readonly ValueOnLine[])[]): GroupsOnLines | null {
  const runs = groups.flatMap((ofGroup, group) => ofGroup.map((run) => ({ ...run, group })));
  const [, ...lines] = linesOf(runs);
  const shareOf = (line: number) => runs.filter((run) => run.line === line).length / runs.length;
  // Centred, so that 0 stands for all lines as they occur.
  const rows = runs.map(({ group, line }) => [
    ...unit(group, groups.length),
    ...lines.map((one) => Number(line === one) - shareOf(one)),
  ]);
  const noPrior = new Array<number>(groups.length + lines.length).fill(Number.POSITIVE_INFINITY);
  const y = runs.map(({ value }) => value);
  const fit = fitRegression(rows, { y, exposure: y.map(() => 1), family: 'normal' }, noPrior);
  if (fit === null || fit.betweenRuns <= LEAST_VARIANCE) return null;
  return {
    mean: (group) => combined(fit, unit(group, noPrior.length)),
    difference: (group) => differenceOf(combined(fit, unit(group, noPrior.length).with(0, -1))),
  };
}

/** The mean of each line: where groups share no line, the line is the unit. */
export function meansOfLines(runs: readonly ValueOnLine[]): readonly number[] {
  return linesOf(runs).map((line) => {
    const values = runs.filter((run) => run.line === line).map(({ value }) => value);
    return values.reduce((sum, value) => sum + value, 0) / values.length;
  });
}

function unit(at: number, length: number): number[] {
  return Array.from({ length }, (_, i) => Number(i === at));
}
