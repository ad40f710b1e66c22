/** A stretch of strand, mm along one axis. */
export interface StrandRange {
  readonly fromMm: number;
  readonly toMm: number;
}

/** A name that a user gave to strand. It stays with that strand, whatever coils a later plan makes of it. */
export interface NamedStrand extends StrandRange {
  readonly name: string;
}

/** Two stretches are the same coil when they share more than this much of the shorter one. */
const SAME_SHARE = 0.5;

/**
 * The names that count, from all that were ever given, oldest first: a new name replaces the earlier ones on the same
 * strand, and an empty one takes them away.
 */
export function currentNames(given: readonly NamedStrand[]): readonly NamedStrand[] {
  let names: readonly NamedStrand[] = [];
  for (const one of given) {
    const others = names.filter(
      (before) => overlapMm(before, one) <= SAME_SHARE * Math.min(lengthOf(before), lengthOf(one)),
    );
    names = one.name === '' ? others : [...others, one];
  }
  return names;
}

/**
 * The name of a coil: that of the named strand of which it holds more than half, so that no two coils get the same name.
 * Of several the longest stretch counts. null = the coil has only the plan's own name.
 */
export function nameOfCoil(coil: StrandRange, names: readonly NamedStrand[]): string | null {
  let best: NamedStrand | null = null;
  let most = 0;
  for (const named of names) {
    const shared = overlapMm(coil, named);
    if (shared <= SAME_SHARE * lengthOf(named) || shared <= most) continue;
    best = named;
    most = shared;
  }
  return best?.name ?? null;
}

function lengthOf({ fromMm, toMm }: StrandRange): number {
  return toMm - fromMm;
}

function overlapMm(a: StrandRange, b: StrandRange): number {
  return Math.min(a.toMm, b.toMm) - Math.max(a.fromMm, b.fromMm);
}
