import { capital, listed } from '../../problem/sentence.ts';
import type { ComparedMeasure, Comparison } from './compare-groups.ts';
import { groupsLinkedWithFirst, type OnLine } from './groups-on-lines.ts';
import { MEASURE_KINDS, type MeasureKey } from './measures.ts';
import type { PreparationDifference } from './preparation.ts';
import { runsNeededText } from './runs-needed-text.ts';

/** Runs by group, with their times: their order may hide other causes. */
export interface GroupOfRuns {
  readonly name: string;
  readonly runs: readonly (OnLine & { readonly name: string; readonly startedMs: number; readonly hasLot: boolean })[];
}

export interface Conclusion {
  /** What was prepared differently. */
  readonly preparation: string;
  /** The results, and whether they are more than chance. */
  readonly result: string;
  /** What the results do not show. */
  readonly limitations: readonly string[];
  /** What would show more; null = nothing. */
  readonly nextStep: string | null;
}

/** Number of findings named in the sentence. */
const NAMED = 2;
/** With fewer runs in a group, only differences several times the spread between runs can show. */
const FEW_RUNS = 4;

/** Summary of a comparison. Every other group is compared with the first. */
export function concludeComparison(
  groups: readonly GroupOfRuns[],
  differences: readonly PreparationDifference[],
  measures: readonly ComparedMeasure[],
): Conclusion {
  const oneEach = groups.every(({ runs }) => runs.length === 1);
  const found = measures.flatMap(({ key, groups: values, comparisons }) =>
    comparisons.map(({ group, p, finding }): Found => {
      const side = (i: number) => ({ name: groups[i]?.name ?? '', value: values[i]?.value ?? Number.NaN });
      return { key, p, finding, first: side(0), other: side(group) };
    }),
  );
  const differing = found.filter(({ finding }) => finding === 'differs');
  const elsewhere = onOtherLines(groups);
  return {
    preparation: preparedText(groups, differences),
    result: cameOutText(found, differing, oneEach),
    limitations: [
      ...otherLinesText(groups, elsewhere),
      ...notShownText(groups, differences, differing.length > 0, oneEach),
    ],
    nextStep:
      [
        elsewhere.length > 0 && differences.length > 1
          ? `What would show it: the preparations of ${listed(groups.map(({ name }) => name))} on one line, wound in turn.`
          : wouldShowText(groups, oneEach, differing.length > 0),
        runsNeededText(measures, Math.min(...groups.map(({ runs }) => runs.length))),
      ]
        .filter((text) => text !== null && text !== '')
        .join(' ') || null,
  };
}

interface Found extends Pick<Comparison, 'p' | 'finding'> {
  readonly key: MeasureKey;
  readonly first: { readonly name: string; readonly value: number };
  readonly other: { readonly name: string; readonly value: number };
}

function preparedText(groups: readonly GroupOfRuns[], differences: readonly PreparationDifference[]): string {
  const unknown = groups.flatMap(({ runs }) => runs.filter(({ hasLot }) => !hasLot).map(({ name }) => name));
  const missing =
    unknown.length === 0
      ? ''
      : ` No material is entered for ${listed(unknown)}: add it on ${unknown.length === 1 ? 'its page' : 'their pages'}.`;
  if (differences.length === 0) return `No difference was entered, and the line sent none.${missing}`;
  const named = differences.slice(0, 3).map((difference) => differenceText(groups, difference));
  const more = differences.length - named.length;
  return `Different: ${named.join('; ')}${more > 0 ? `; and ${more} more` : ''}.${missing}`;
}

/** "Drying time 8 h in B, 4 h in A"; "“shaken” only in B"; material and line have names, so they are quoted, too. */
function differenceText(groups: readonly GroupOfRuns[], { what, values, isOwnWords }: PreparationDifference): string {
  const known = groups.flatMap(({ name }, i) => {
    const value = values[i] ?? null;
    return value === null ? [] : [{ name, value }];
  });
  const [only, ...others] = known;
  const quoted = (value: string) => (isOwnWords || what === 'Material' || what === 'Line' ? `“${value}”` : value);
  const subject = isOwnWords ? '' : `${lowered(what)} `;
  if (only !== undefined && others.length === 0) return `${subject}${quoted(only.value)} only in ${only.name}`;
  return `${subject}${known
    .toReversed()
    .map(({ value, name }) => `${quoted(value)} in ${name}`)
    .join(', ')}`;
}

/** "“shaken”", "the drying time". */
function causeText({ what, values, isOwnWords }: PreparationDifference): string {
  const value = values.findLast((one) => one !== null);
  return isOwnWords && value != null ? `“${value}”` : `the ${lowered(what)}`;
}

function lowered(what: string): string {
  return `${what.charAt(0).toLowerCase()}${what.slice(1)}`;
}

function cameOutText(found: readonly Found[], differing: readonly Found[], oneEach: boolean): string {
  const asked = found.filter(({ p }) => p !== null).length;
  if (asked === 0) return 'Too little was wound, or measured, to tell any difference from chance.';
  if (differing.length === 0) {
    const unsure = found.filter(({ finding }) => finding === 'unsure').map(({ key }) => nameOf(key));
    const hint =
      unsure.length === 0
        ? ''
        : ` ${capital(listed([...new Set(unsure)]))} would count as different if each were the only question; among ${asked} questions one such finding now and then is to be expected.`;
    return `No result differs by more than chance.${hint}`;
  }
  const named = differing
    .slice(0, NAMED)
    .map(
      ({ key, first, other }) =>
        `${nameOf(key)}: ${amount(key, other.value)} in ${other.name}, ${amount(key, first.value)} in ${first.name}`,
    );
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
  const sentences: string[] = [];
  const [only] = differences.length === 1 ? differences : [];
  const cause = only === undefined ? 'what was prepared differently' : causeText(only);
  if (oneEach && some)
    sentences.push(
      `The runs differ, but one run of each does not show that this came from ${cause}. Two runs prepared alike differ too; by how much is not known yet.`,
    );
  if (differences.length > 1 && some)
    sentences.push(
      `${differences.length} things were different at once, so no finding can be put down to one of them. Change one thing from batch to batch.`,
    );
  if (!oneEach && some && inBlocks(groups))
    sentences.push(
      'All runs of one group came before those of the other, so anything else that changed in between looks like an effect of the different preparation.',
    );
  if (!some && groups.some(({ runs }) => runs.length < FEW_RUNS))
    sentences.push('No difference found is not “no difference”: with so few runs only a large one can be seen.');
  return sentences;
}

function wouldShowText(groups: readonly GroupOfRuns[], oneEach: boolean, some: boolean): string | null {
  const names = groups.map(({ name }) => name);
  const turns = [...names, ...names].join(', ');
  if (oneEach)
    return `What would show it: run each again with nothing else changed, in turn (${turns}). With two runs of each, chance is judged by how much runs of one kind differ.`;
  const few = groups.filter(({ runs }) => runs.length < FEW_RUNS);
  if (few.length === 0) return null;
  const more = listed(few.map(({ name }) => name));
  return some && !inBlocks(groups)
    ? `More runs of ${more} would make it more certain, taken in turn with the others.`
    : `What would show more: further runs of ${more}, taken in turn with the others.`;
}

/** Groups that share no line with the first one. */
function onOtherLines(groups: readonly GroupOfRuns[]): readonly string[] {
  const linked = groupsLinkedWithFirst(groups.map(({ runs }) => runs));
  return groups.filter((_, i) => !linked.has(i)).map(({ name }) => name);
}

function otherLinesText(groups: readonly GroupOfRuns[], elsewhere: readonly string[]): string[] {
  if (elsewhere.length === 0) return [];
  const were = elsewhere.length === 1 ? 'was' : 'were';
  return [
    `${capital(listed(elsewhere))} ${were} not wound on the same line as ${groups[0]?.name}: a difference may come from the line, such as its extruder, its gauge or its room.`,
  ];
}

/** Whether all runs of the first group were made before, or after, all runs of another. */
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
