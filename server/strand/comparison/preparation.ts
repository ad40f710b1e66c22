/** What was fed and done, as far as it is known: a person's words, and what the line told while it wound. */
export interface Preparation {
  readonly lot: { readonly name: string; readonly preparation: string } | null;
  /** Mean set-points while winding, by zone from 1; null = not told. */
  readonly setpointsC: readonly (number | null)[];
  readonly speedMmPerS: number | null;
  readonly screwTurnsPerMin: number | null;
}

/** One thing that is not the same in all groups. */
export interface PreparationDifference {
  /** "Lot", "Zone 2 set to"; of words: the word that they begin with. */
  readonly what: string;
  /** One a group; null = nobody said. Where the runs of a group are not alike, all that they say. */
  readonly values: readonly (string | null)[];
  readonly from: 'user' | 'line';
}

/** Less than this is how set-points and speeds are read, and not how they were set. Common practice, no source. */
const SAME_C = 0.5;
const SAME_SHARE = 0.02;

/** What differs between groups of runs, and nothing that does not. */
export function preparationDifferences(groups: readonly (readonly Preparation[])[]): readonly PreparationDifference[] {
  return [
    ...unlike(
      'Lot',
      groups.map((runs) => runs.map(({ lot }) => lot?.name || null)),
    ),
    ...wordDifferences(groups),
    ...lineDifferences(groups),
  ];
}

/** Runs whose words are the same belong together; one that nobody spoke of stands alone. */
export function alikeText(a: Preparation['lot'], b: Preparation['lot']): boolean {
  if (a === null || b === null) return false;
  return sameText(a.name, b.name) && JSON.stringify(keysOf(a.preparation)) === JSON.stringify(keysOf(b.preparation));
}

/** "Sorted, dried 8 h at 50 °C; 30 % new pellets" as its parts. A comma within a number parts nothing. */
function phrasesOf(preparation: string): readonly string[] {
  return preparation
    .split(/;|\n|,(?!\d)|\.(?=\s|$)/)
    .map((phrase) => phrase.trim().replaceAll(/\s+/g, ' '))
    .filter((phrase) => phrase !== '');
}

function wordDifferences(groups: readonly (readonly Preparation[])[]): PreparationDifference[] {
  const said = groups.map((runs) => runs.map(({ lot }) => phrasesOf(lot?.preparation ?? '')));
  const subjects = [...new Set(said.flat(2).map(subjectOf))];
  return subjects.flatMap((subject) => {
    const of = (phrases: readonly string[]) =>
      phrases.filter((phrase) => subjectOf(phrase) === subject).join(', ') || null;
    return unlike(
      subject,
      said.map((runs) => runs.map(of)),
    );
  });
}

function lineDifferences(groups: readonly (readonly Preparation[])[]): PreparationDifference[] {
  const zones = Math.max(0, ...groups.flat().map(({ setpointsC }) => setpointsC.length));
  const nearC = (a: number, b: number) => Math.abs(a - b) <= SAME_C;
  const nearShare = (a: number, b: number) => Math.abs(a - b) <= SAME_SHARE * Math.max(a, b);
  const of = (what: string, as: (value: number) => string, near: Near, get: (one: Preparation) => number | null) => {
    const ranges = groups.map((runs) => rangeOf(runs.map(get)));
    const known = ranges.filter((range) => range !== null);
    const apart = known.some((one) => known.some((other) => one.most < other.least && !near(one.most, other.least)));
    if (!apart) return [];
    const values = ranges.map((range) => {
      if (range === null) return null;
      return near(range.least, range.most) ? as(range.mean) : `${as(range.least)} to ${as(range.most)}`;
    });
    return [{ what, values, from: 'line' as const }];
  };
  return [
    ...Array.from({ length: zones }, (_, i) =>
      of(
        `Zone ${i + 1} set to`,
        (c) => `${c.toFixed(0)} °C`,
        nearC,
        ({ setpointsC }) => setpointsC[i] ?? null,
      ),
    ).flat(),
    ...of(
      'Speed of the strand',
      (speed) => `${speed.toFixed(1)} mm/s`,
      nearShare,
      ({ speedMmPerS }) => speedMmPerS,
    ),
    ...of(
      'Screw',
      (turns) => `${turns.toFixed(1)} turns a minute`,
      nearShare,
      ({ screwTurnsPerMin }) => screwTurnsPerMin,
    ),
  ];
}

type Near = (a: number, b: number) => boolean;

/** Null = of no run is anything known. */
function rangeOf(values: readonly (number | null)[]): { least: number; most: number; mean: number } | null {
  const known = values.filter((value) => value !== null);
  if (known.length === 0) return null;
  const mean = known.reduce((sum, value) => sum + value, 0) / known.length;
  return { least: Math.min(...known), most: Math.max(...known), mean };
}

/** Empty where all runs of all groups say the same. */
function unlike(what: string, said: readonly (readonly (string | null)[])[]): PreparationDifference[] {
  const all = new Set(said.flat().map((words) => words?.trim().toLowerCase() ?? null));
  if (all.size <= 1) return [];
  const values = said.map((some) => {
    const known = [...new Set(some)];
    return known.every((words) => words === null) ? null : known.map((words) => words ?? 'not said').join(' / ');
  });
  return [{ what, values, from: 'user' }];
}

/** The first word of letters: what a phrase is about. */
function subjectOf(phrase: string): string {
  return (/\p{L}{2,}/u.exec(phrase)?.[0] ?? phrase).toLowerCase();
}

function keysOf(preparation: string): readonly string[] {
  return phrasesOf(preparation)
    .map((phrase) => phrase.toLowerCase())
    .sort();
}

function sameText(a: string, b: string): boolean {
  return a.trim().toLowerCase() === b.trim().toLowerCase();
}
