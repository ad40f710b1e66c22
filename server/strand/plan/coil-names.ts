/** A range of positions on strand, mm. */
export interface StrandRange {
  readonly fromMm: number;
  readonly toMm: number;
}

/** A name given to strand by a user. It stays with that strand, whatever coils a later plan makes of it. */
export interface NamedStrand extends StrandRange {
  readonly name: string;
}

/** Two stretches are the same coil when they share more than this much of the shorter one. */
const SAME_SHARE = 0.5;

/**
 * The current names, from all names ever given, oldest first. A name replaces earlier ones on the same strand; an empty one
 * deletes them.
 */
export function currentNames(all: readonly NamedStrand[]): readonly NamedStrand[] {
  let names: readonly NamedStrand[] = [];
  for (const one of all) {
    const others = names.filter(
      (earlier) => overlapMm(earlier, one) <= SAME_SHARE * Math.min(lengthOf(earlier), lengthOf(one)),
    );
    names = one.name === '' ? others : [...others, one];
  }
  return names;
}

/**
 * The name of a coil: that of the named strand of which it holds more than half, so that no two coils get the same name. Of
 * several, the one with the longest overlap counts. Null = no user named the coil.
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
