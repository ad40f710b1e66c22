/** A value of a name that no accepted line has had. */
export interface Sighting {
  readonly unit: string;
  readonly value: number;
  readonly places: number;
  readonly timeMs: number;
  readonly lines: number;
}

/** On a clean cable a name that comes again is no damage. */
const AGAIN = 2;
/** So many other names that came only once ask for one sighting more each: they show that lines are damaged. */
const SINGLES_EACH = 3;
/** At first a board prints everything once. */
const START_MS = 4000;
/** A name near another one is damage, unless it comes more often than damage makes the same of it. */
const NEAR_EDITS = 2;
const NEAR_AGAIN = 3;
const NEAR_SHARE = 1 / 20;
/** Of names of one letter each other letter is near, and so are those that count zones. */
const SIBLING_SHARE = 1 / 200;
const NAMES_MAX = 64;

/**
 * Decides when the board probably prints a name that only lines without a confirmed form have had. Enough for a proposal,
 * which a user confirms; too little to measure by.
 */
export class Sightings {
  readonly #names = new Map<string, Sighting[]>();
  #firstMs = Number.NaN;

  /**
   * @param known names that the board prints, and how often they came
   * @returns all sightings of the name once there are enough; before that none
   */
  add(name: string, sighting: Sighting, known: Iterable<{ name: string; count: number }>): readonly Sighting[] {
    if (Number.isNaN(this.#firstMs)) this.#firstMs = sighting.timeMs;
    // What is left of a line that has lost its name.
    if (/^value \d+$/.test(name)) return [];
    const sightings = [...(this.#names.get(name) ?? []), sighting];
    this.#names.delete(name);
    if (sightings.length >= this.#needed(name, known)) return sightings;
    this.#names.set(name, sightings);
    const [oldest] = this.#names.keys();
    if (this.#names.size > NAMES_MAX && oldest !== undefined) this.#names.delete(oldest);
    return [];
  }

  /** A line with the name was accepted. */
  forget(name: string): void {
    this.#names.delete(name);
  }

  #needed(name: string, known: Iterable<{ name: string; count: number }>): number {
    let singles = 0;
    for (const [first, ...more] of this.#names.values())
      if (first !== undefined && more.length === 0 && first.timeMs - this.#firstMs > START_MS) singles++;
    let ofNear = 0;
    for (const other of known) {
      if (!isNear(name, other.name)) continue;
      const ofThis = areSiblings(name, other.name)
        ? other.count * SIBLING_SHARE
        : Math.max(NEAR_AGAIN, other.count * NEAR_SHARE);
      ofNear = Math.max(ofNear, ofThis);
    }
    return Math.max(AGAIN + Math.floor(singles / SINGLES_EACH), ofNear);
  }
}

/** "T" and "S", "Zone 1" and "Zone 2": only a digit differs, or both are so short that another letter is another name. */
function areSiblings(one: string, other: string): boolean {
  if (one.length !== other.length) return false;
  return one.length <= 2 || one.replaceAll(/\d/g, '0') === other.replaceAll(/\d/g, '0');
}

/**
 * Whether a few characters make one of the other: changed, lost or added ones between a common start and end. A name of
 * another length that shares nothing ("W" and "H1") is none.
 */
function isNear(one: string, other: string): boolean {
  const [short, long] = one.length <= other.length ? [one, other] : [other, one];
  if (long.length - short.length > NEAR_EDITS) return false;
  let start = 0;
  while (start < short.length && short[start] === long[start]) start++;
  let end = 0;
  while (end < short.length - start && short.at(-1 - end) === long.at(-1 - end)) end++;
  const isOfOtherLength = long.length > short.length;
  return long.length - start - end <= NEAR_EDITS && !(isOfOtherLength && start + end === 0);
}
