import { fieldOf, keysInOrder, levelText, preparationOnly, type Values, valueText } from '../../preparation/fields.ts';
import { readPreparation, stepsOf } from '../../preparation/read-text.ts';
import { groupsLinkedWithFirst, type OnLine } from './groups-on-lines.ts';

/** Material and settings of a run, as far as known: entered by a user, or sent by the line while winding. */
export interface Preparation {
  readonly lot: { readonly name: string; readonly preparation: string; readonly values: Values } | null;
  /** Mean set-points while winding, by zone from 1; null = not sent. */
  readonly setpointsC: readonly (number | null)[];
  readonly speedMmPerS: number | null;
  readonly screwTurnsPerMin: number | null;
}

/** The preparation of a run, and the line that made it. */
export interface PreparedRun extends Preparation, OnLine {
  readonly lineName: string;
}

/** One thing that is not the same in all groups. */
export interface PreparationDifference {
  /** "Material", "Drying time", "Set-point of zone 2"; for steps in a user's own words, the word that they start with. */
  readonly what: string;
  /** One per group; null = not known. Where the runs of a group differ, all their values. */
  readonly values: readonly (string | null)[];
  readonly from: 'user' | 'line';
  /** The values are steps in a user's own words, which say what they are about. */
  readonly isOwnWords: boolean;
}

/** Smaller differences of set-points and speeds are measurement noise. Common practice, no source. */
const SAME_C = 0.5;
const SAME_SHARE = 0.02;

/** What differs between groups of runs, and nothing that does not. */
export function preparationDifferences(groups: readonly (readonly PreparedRun[])[]): readonly PreparationDifference[] {
  // Groups with a line in common are compared within it.
  const byLine = groupsLinkedWithFirst(groups).size < groups.length;
  const lines = groups.map((runs) => runs.map(({ lineName }) => lineName));
  return [
    ...(byLine ? differenceInText('Line', lines) : []),
    ...differenceInText(
      'Material',
      groups.map((runs) => runs.map(({ lot }) => lot?.name || null)),
    ),
    ...fieldDifferences(groups),
    ...stepDifferences(groups),
    ...lineDifferences(groups),
  ];
}

/** Whether two runs have the same lot and preparation. False where either is not known. */
export function alikeText(a: Preparation['lot'], b: Preparation['lot']): boolean {
  if (a === null || b === null) return false;
  return sameText(a.name, b.name) && JSON.stringify(prepared(a)) === JSON.stringify(prepared(b));
}

/** All that is known of a preparation: what users filled in, and what their words say about other fields. */
function fieldsOf(lot: Preparation['lot']): { readonly values: Values; readonly rest: string } {
  const { values, rest } = readPreparation(lot?.preparation ?? '');
  return { values: preparationOnly({ ...values, ...lot?.values }), rest };
}

/** What the line sends is known better than what a user wrote. */
const SENT_BY_LINE = /^(die|zone\d)C$|^speedMmPerS$/;

function fieldDifferences(groups: readonly (readonly Preparation[])[]): PreparationDifference[] {
  const values = groups.map((runs) => runs.map(({ lot }) => fieldsOf(lot).values));
  const sends = groups.flat().some(({ setpointsC, speedMmPerS }) => setpointsC.length > 0 || speedMmPerS !== null);
  const keys = keysInOrder(Object.assign({}, ...values.flat()) as Values);
  return keys
    .filter((key) => !(sends && SENT_BY_LINE.test(key)))
    .flatMap((key) =>
      differenceInText(
        fieldOf(key).title,
        values.map((runs) => runs.map(({ [key]: value }) => (value === undefined ? null : levelText(key, value)))),
      ),
    );
}

function stepDifferences(groups: readonly (readonly Preparation[])[]): PreparationDifference[] {
  const steps = groups.map((runs) => runs.map(({ lot }) => stepsOf(fieldsOf(lot).rest)));
  const subjects = [...new Set(steps.flat(2).map(subjectOf))];
  return subjects.flatMap((subject) => {
    const about = (all: readonly string[]) => all.filter((step) => subjectOf(step) === subject).join(', ') || null;
    const [difference] = differenceInText(
      subject,
      steps.map((runs) => runs.map(about)),
    );
    return difference === undefined ? [] : [{ ...difference, isOwnWords: true }];
  });
}

function lineDifferences(groups: readonly (readonly Preparation[])[]): PreparationDifference[] {
  const zones = Math.max(0, ...groups.flat().map(({ setpointsC }) => setpointsC.length));
  const nearC = (a: number, b: number) => Math.abs(a - b) <= SAME_C;
  const nearShare = (a: number, b: number) => Math.abs(a - b) <= SAME_SHARE * Math.max(a, b);
  const difference = (
    what: string,
    format: (value: number) => string,
    near: Near,
    get: (one: Preparation) => number | null,
  ) => {
    const ranges = groups.map((runs) => rangeOf(runs.map(get)));
    const known = ranges.filter((range) => range !== null);
    const apart = known.some((one) => known.some((other) => one.most < other.least && !near(one.most, other.least)));
    if (!apart) return [];
    const values = ranges.map((range) => {
      if (range === null) return null;
      return near(range.least, range.most) ? format(range.mean) : `${format(range.least)} to ${format(range.most)}`;
    });
    return [{ what, values, from: 'line' as const, isOwnWords: false }];
  };
  return [
    ...Array.from({ length: zones }, (_, i) =>
      difference(
        `Set-point of zone ${i + 1}`,
        (c) => `${c.toFixed(0)} °C`,
        nearC,
        ({ setpointsC }) => setpointsC[i] ?? null,
      ),
    ).flat(),
    ...difference(
      'Speed of the strand',
      (speed) => `${speed.toFixed(1)} mm/s`,
      nearShare,
      ({ speedMmPerS }) => speedMmPerS,
    ),
    ...difference(
      'Screw',
      (turns) => `${turns.toFixed(1)} turns a minute`,
      nearShare,
      ({ screwTurnsPerMin }) => screwTurnsPerMin,
    ),
  ];
}

type Near = (a: number, b: number) => boolean;

/** Null = not known for any run. */
function rangeOf(values: readonly (number | null)[]): { least: number; most: number; mean: number } | null {
  const known = values.filter((value) => value !== null);
  if (known.length === 0) return null;
  const mean = known.reduce((sum, value) => sum + value, 0) / known.length;
  return { least: Math.min(...known), most: Math.max(...known), mean };
}

/** Empty where all runs of all groups have the same text. */
function differenceInText(what: string, texts: readonly (readonly (string | null)[])[]): PreparationDifference[] {
  const all = new Set(texts.flat().map((text) => text?.trim().toLowerCase() ?? null));
  if (all.size <= 1) return [];
  const values = texts.map((ofGroup) => {
    const known = [...new Set(ofGroup)];
    return known.every((text) => text === null) ? null : known.map((text) => text ?? 'not stated').join(' / ');
  });
  return [{ what, values, from: 'user', isOwnWords: false }];
}

/** The first word of a step. */
function subjectOf(step: string): string {
  return (/\p{L}{2,}/u.exec(step)?.[0] ?? step).toLowerCase();
}

/** In a form in which the order of what was done does not matter. */
function prepared(lot: NonNullable<Preparation['lot']>): readonly string[] {
  const { values, rest } = fieldsOf(lot);
  const said = keysInOrder(values).map((key) => valueText(key, values[key]!).toLowerCase());
  return [
    ...said,
    ...stepsOf(rest)
      .map((step) => step.toLowerCase())
      .sort(),
  ];
}

function sameText(a: string, b: string): boolean {
  return a.trim().toLowerCase() === b.trim().toLowerCase();
}
