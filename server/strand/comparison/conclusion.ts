import { capital } from '../../problem/sentence.ts';
import type { ComparedMeasure, Comparison } from './compare-groups.ts';
import { MEASURE_KINDS, type MeasureKey } from './measures.ts';
import type { PreparationDifference } from './preparation.ts';

/** When runs were made, and how they are grouped: for what their order may hide. */
export interface GroupOfRuns {
  readonly name: string;
  readonly runs: readonly { readonly runId: number; readonly startedMs: number; readonly lotSaid: boolean }[];
}

export interface Conclusion {
  /** What was different. */
  readonly preparation: string;
  /** What came of it, and whether it is more than chance. */
  readonly result: string;
  /** What that does not show. */
  readonly limitations: readonly string[];
  /** What would show it; null = nothing is left to ask for. */
  readonly nextStep: string | null;
}

/** So many findings are named in the sentence, the first ones of the list. */
const NAMED = 2;
/** A side with fewer runs can show only differences several times as large as what runs differ by. */
const FEW_RUNS = 4;

/** What is to be said first. Groups beyond the second are each held beside the first. */
export function concludeComparison(
  groups: readonly GroupOfRuns[],
  differences: readonly PreparationDifference[],
  measures: readonly ComparedMeasure[],
): Conclusion {
  const oneEach = groups.every(({ runs }) => runs.length === 1);
  const found = measures.flatMap(({ key, runs, groups: values, comparisons }) =>
    comparisons.map((comparison) => ({ key, runs, values, comparison })),
  );
  const differing = found.filter(({ comparison }) => comparison.finding === 'differs');
  return {
    preparation: preparedText(groups, differences),
    result: cameOutText(groups, found, differing, oneEach),
    limitations: notShownText(groups, differences, differing.length > 0, oneEach),
    nextStep: wouldShowText(groups, oneEach, differing.length > 0),
  };
}

interface Found {
  readonly key: MeasureKey;
  readonly values: ComparedMeasure['groups'];
  readonly comparison: Comparison;
}

function preparedText(groups: readonly GroupOfRuns[], differences: readonly PreparationDifference[]): string {
  const unsaid = groups.flatMap(({ runs }) => runs.filter(({ lotSaid }) => !lotSaid).map(({ runId }) => runId));
  const missing =
    unsaid.length === 0
      ? ''
      : ` Nobody has said what ${unsaid.length === 1 ? `run ${unsaid[0]} was` : `runs ${listed(unsaid.map(String))} were`} fed with: name the lot on ${unsaid.length === 1 ? 'its page' : 'their pages'}.`;
  if (differences.length === 0)
    return `Nothing that is written down, and nothing that the line told, is different.${missing}`;
  const named = differences.slice(0, 3).map((difference) => differenceText(groups, difference));
  const more = differences.length - named.length;
  return `Different: ${named.join('; ')}${more > 0 ? `; and ${more} more` : ''}.${missing}`;
}

/** "“dried 8 h at 50 °C” only in B"; "speed of the strand 40.0 mm/s in B, 30.0 mm/s in A". */
function differenceText(groups: readonly GroupOfRuns[], { what, values, from }: PreparationDifference): string {
  const said = values.flatMap((value, i) => (value === null ? [] : [{ value, name: groups[i]!.name }]));
  const quoted = (value: string) => (from === 'user' ? `“${value}”` : value);
  const subject = from === 'user' && what !== 'Lot' ? '' : `${what.charAt(0).toLowerCase()}${what.slice(1)} `;
  if (said.length === 1) return `${subject}${quoted(said[0]!.value)} only in ${said[0]!.name}`;
  return `${subject}${said
    .toReversed()
    .map(({ value, name }) => `${quoted(value)} in ${name}`)
    .join(', ')}`;
}

/** "“dried 8 h at 50 °C”", "the speed of the strand". */
function causeText({ what, values, from }: PreparationDifference): string {
  const said = values.findLast((value) => value !== null);
  return from === 'user' && said != null ? `“${said}”` : `the ${what.charAt(0).toLowerCase()}${what.slice(1)}`;
}

function cameOutText(
  groups: readonly GroupOfRuns[],
  found: readonly Found[],
  differing: readonly Found[],
  oneEach: boolean,
): string {
  const asked = found.filter(({ comparison }) => comparison.p !== null).length;
  if (asked === 0) return 'Too little was wound, or measured, to tell any difference from chance.';
  if (differing.length === 0) {
    const unsure = found.filter(({ comparison }) => comparison.finding === 'unsure').map(({ key }) => nameOf(key));
    const hint =
      unsure.length === 0
        ? ''
        : ` ${capital(listed([...new Set(unsure)]))} would count as different had nothing else been asked; among ${asked} questions one such finding is to be expected now and then.`;
    return `Nothing that came of it differs by more than chance.${hint}`;
  }
  const named = differing.slice(0, NAMED).map(({ key, values, comparison }) => {
    const [first, later] = [values[0]!.value, values[comparison.group]!.value];
    const name = groups[comparison.group]!.name;
    return `${nameOf(key)}: ${amount(key, later)} in ${name}, ${amount(key, first)} in ${groups[0]!.name}`;
  });
  const more = differing.length - named.length;
  const within = oneEach ? ' within these runs' : '';
  return `${capital(named.join('; '))}${more > 0 ? `; and ${more} more` : ''}. That is more than chance${within}.`;
}

function notShownText(
  groups: readonly GroupOfRuns[],
  differences: readonly PreparationDifference[],
  some: boolean,
  oneEach: boolean,
): string[] {
  const words: string[] = [];
  const [only] = differences.length === 1 ? differences : [];
  const cause = only === undefined ? 'what was prepared differently' : causeText(only);
  if (oneEach && some)
    words.push(
      `The runs differ; that this came from ${cause} is not shown by one run of each. Two runs prepared alike differ too, and by how much is not known yet.`,
    );
  if (differences.length > 1 && some)
    words.push(
      `${differences.length} things were different at once, so no finding can be laid to one of them. Change one thing from batch to batch.`,
    );
  if (!oneEach && some && inBlocks(groups))
    words.push(
      'All runs of one group came before those of the other, so whatever else changed meanwhile looks the same as what was prepared differently.',
    );
  if (!some && groups.some(({ runs }) => runs.length < FEW_RUNS))
    words.push('No difference found is not “no difference”: with so few runs only a large one can be seen.');
  return words;
}

function wouldShowText(groups: readonly GroupOfRuns[], oneEach: boolean, some: boolean): string | null {
  const names = groups.map(({ name }) => name);
  const turns = [...names, ...names].join(', ');
  if (oneEach)
    return `What would show it: run each again with nothing else changed, in turn (${turns}). From two runs of each on, chance is judged by how like runs differ.`;
  const few = groups.filter(({ runs }) => runs.length < FEW_RUNS);
  if (few.length === 0) return null;
  const more = listed(few.map(({ name }) => name));
  return some && !inBlocks(groups)
    ? `More runs of ${more} would make it surer, taken in turn with the others.`
    : `What would show more: further runs of ${more}, taken in turn with the others.`;
}

/** All of one group before all of another, with more than one on a side. */
function inBlocks(groups: readonly GroupOfRuns[]): boolean {
  const spans = groups.map(({ runs }) => runs.map(({ startedMs }) => startedMs));
  const [first = [], ...later] = spans;
  return later.some((some) => Math.max(...first) < Math.min(...some) || Math.max(...some) < Math.min(...first));
}

function nameOf(key: MeasureKey): string {
  return MEASURE_KINDS[key].title.toLowerCase();
}

/** A value in a sentence, with its unit. */
function amount(key: MeasureKey, value: number): string {
  if (!Number.isFinite(value)) return 'not known';
  if (value === 0) return 'none';
  switch (MEASURE_KINDS[key].unit) {
    case 'mm':
      return `${value.toFixed(3)} mm`;
    case 'share':
      return `${(value * 100).toFixed(value > 0.995 && value < 1 ? 2 : 1)} %`;
    case 'per100m':
      return `${value.toFixed(value < 10 ? 1 : 0)} in 100 m`;
    case 'm':
      return `${value.toFixed(1)} m`;
    case 'kelvin':
      return `${value.toFixed(2)} K`;
    case 'perHour':
      return `${value.toFixed(1)} an hour`;
  }
}

function listed(words: readonly string[]): string {
  return words.length < 2 ? (words[0] ?? '') : `${words.slice(0, -1).join(', ')} and ${words.at(-1)}`;
}
