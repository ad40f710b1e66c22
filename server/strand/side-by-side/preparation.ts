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
  readonly from: 'words' | 'line';
}

/** Less than this is how set-points and speeds are read, and not how they were set. Common practice, no source. */
const SAME_C = 0.5;
const SAME_SHARE = 0.02;

/** What differs between groups of runs, and nothing that does not. */
export function preparationDifferences(groups: readonly (readonly Preparation[])[]): readonly PreparationDifference[] {
  return [
    ...whereUnlike('Lot', groups, ({ lot }) => lot?.name || null, sameWords),
    ...wordDifferences(groups),
    ...lineDifferences(groups),
  ];
}

/** Runs whose words are the same belong together; one that nobody spoke of stands alone. */
export function alikeInWords(a: Preparation['lot'], b: Preparation['lot']): boolean {
  if (a === null || b === null) return false;
  return sameWords(a.name, b.name) && JSON.stringify(keysOf(a.preparation)) === JSON.stringify(keysOf(b.preparation));
}

/** "Sorted, dried 8 h at 50 °C; 30 % new pellets" as its parts. A comma within a number parts nothing. */
export function phrasesOf(preparation: string): readonly string[] {
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
      'words',
      sameWords,
    );
  });
}

function lineDifferences(groups: readonly (readonly Preparation[])[]): PreparationDifference[] {
  const zones = Math.max(0, ...groups.flat().map(({ setpointsC }) => setpointsC.length));
  const of = (
    what: string,
    unit: string,
    digits: number,
    same: (a: number, b: number) => boolean,
    get: (one: Preparation) => number | null,
  ) => {
    const numbers = groups.map((runs) => runs.map(get));
    const known = numbers.flat().filter((value) => value !== null);
    if (known.every((value) => same(value, known[0]!))) return [];
    return unlike(
      what,
      numbers.map((some) => some.map((value) => (value === null ? null : `${value.toFixed(digits)} ${unit}`))),
      'line',
      (a, b) => a === b,
    );
  };
  const nearC = (a: number, b: number) => Math.abs(a - b) <= SAME_C;
  const nearShare = (a: number, b: number) => Math.abs(a - b) <= SAME_SHARE * Math.max(a, b);
  return [
    ...Array.from({ length: zones }, (_, i) =>
      of(`Zone ${i + 1} set to`, '°C', 0, nearC, ({ setpointsC }) => setpointsC[i] ?? null),
    ).flat(),
    ...of('Speed of the strand', 'mm/s', 1, nearShare, ({ speedMmPerS }) => speedMmPerS),
    ...of('Screw', 'turns a minute', 1, nearShare, ({ screwTurnsPerMin }) => screwTurnsPerMin),
  ];
}

function whereUnlike(
  what: string,
  groups: readonly (readonly Preparation[])[],
  get: (one: Preparation) => string | null,
  same: (a: string, b: string) => boolean,
): PreparationDifference[] {
  return unlike(
    what,
    groups.map((runs) => runs.map(get)),
    'words',
    same,
  );
}

function unlike(
  what: string,
  values: readonly (readonly (string | null)[])[],
  from: PreparationDifference['from'],
  same: (a: string, b: string) => boolean,
): PreparationDifference[] {
  const first = values[0]?.[0] ?? null;
  const alike = (value: string | null) => (value === null || first === null ? value === first : same(value, first));
  if (values.flat().every(alike)) return [];
  return [
    { what, values: values.map((some) => [...new Set(some)].map((one) => one ?? 'not said').join(' / ')), from },
  ].map(({ values: all, ...rest }) => ({ ...rest, values: all.map((value) => (value === 'not said' ? null : value)) }));
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

function sameWords(a: string, b: string): boolean {
  return a.trim().toLowerCase() === b.trim().toLowerCase();
}
