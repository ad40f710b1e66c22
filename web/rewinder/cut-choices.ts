/** What a person chooses before the first cut. Kept for each spool: the service follows what was cut against them. */
export interface CutChoices {
  /** null = as set for the line. */
  readonly shortestMm: number | null;
  readonly objective: 'mostLength' | 'fewestCuts';
  readonly doubtful: 'keep' | 'cut';
  readonly unknown: 'keep' | 'cut';
  readonly printerId: number;
}

export const USUAL_CHOICES: Omit<CutChoices, 'printerId'> = {
  shortestMm: null,
  objective: 'mostLength',
  doubtful: 'cut',
  unknown: 'cut',
};

export function queryOf(choices: CutChoices): string {
  const { printerId, shortestMm, objective, doubtful, unknown } = choices;
  return new URLSearchParams({
    printer: String(printerId),
    ...(shortestMm === null ? {} : { shortestMm: String(shortestMm) }),
    objective,
    doubtful,
    unknown,
  }).toString();
}

/** Reads what `queryOf` wrote; whatever is missing or no choice falls back. */
export function choicesFrom(query: string, printerId: number): CutChoices {
  const given = new URLSearchParams(query);
  const number = (name: string, otherwise: number) => {
    const value = Number(given.get(name) ?? Number.NaN);
    return Number.isFinite(value) && value >= 0 ? value : otherwise;
  };
  const one = <T extends string>(name: string, of: readonly T[], otherwise: T): T =>
    of.find((value) => value === given.get(name)) ?? otherwise;
  return {
    printerId: number('printer', printerId),
    shortestMm: number('shortestMm', 0) || null,
    objective: one('objective', ['mostLength', 'fewestCuts'] as const, USUAL_CHOICES.objective),
    doubtful: one('doubtful', ['keep', 'cut'] as const, USUAL_CHOICES.doubtful),
    unknown: one('unknown', ['keep', 'cut'] as const, USUAL_CHOICES.unknown),
  };
}

const key = (spoolId: number) => `strandward.cut.${spoolId}`;

export function keptChoices(spoolId: number, printerId: number): CutChoices {
  return choicesFrom(location.search.slice(1) || (localStorage.getItem(key(spoolId)) ?? ''), printerId);
}

export function keepChoices(spoolId: number, choices: CutChoices): void {
  const query = queryOf(choices);
  localStorage.setItem(key(spoolId), query);
  // In the address too, so that the page opens with the same choices on another device.
  history.replaceState(history.state, '', `${location.pathname}?${query}`);
}

/** The question for the plan of a spool as it was last chosen here, for another printer if need be. */
export function keptQuery(spoolId: number, printerId: number): string {
  return queryOf({ ...keptChoices(spoolId, printerId), printerId });
}
