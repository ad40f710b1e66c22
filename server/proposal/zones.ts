import { correlation } from '../probability/correlation.ts';
import { ZONE_COUNT_MAX } from '../reading/names.ts';
import type { SeenField } from '../reading/seen-fields.ts';
import type { Guess } from './guess.ts';
import { indexOf, KINDS, letterOf, nameScore, placeOf } from './name-evidence.ts';
import { asRole, type ProposedRole } from './proposed-role.ts';

/** A temperature and its zone. */
export interface ZoneGuess {
  readonly guess: Guess;
  readonly zone: number;
}

/** Where a zone is taken to be whose name does not say it. */
const BETWEEN = 0.5;

/** Zones by the numbers or letters in the names, else by where the names say that they are, else in the order of the line. */
export function zonesOf(guesses: readonly Guess[]): readonly ZoneGuess[] {
  const some = guesses.slice(0, ZONE_COUNT_MAX);
  const zones =
    numbered(some.map(({ tokens }) => indexOf(tokens))) ?? lettered(some.map(({ tokens }) => letterOf(tokens)));
  if (zones !== null) return some.map((guess, i) => ({ guess, zone: zones[i] ?? 0 }));
  const place = ({ tokens }: Guess) => placeOf(tokens) ?? BETWEEN;
  const number = ({ tokens }: Guess) => indexOf(tokens) ?? 0;
  const sorted = some.toSorted((a, b) => place(a) - place(b) || number(a) - number(b));
  return sorted.map((guess, i) => ({ guess, zone: i + 1 }));
}

/** Zones by numbers, counted from 0 or 1; null = they do not count zones. */
function numbered(numbers: readonly (number | null)[]): readonly number[] | null {
  const counted = numbers.flatMap((n) => n ?? []);
  if (counted.length < numbers.length || new Set(counted).size < counted.length) return null;
  const first = Math.min(...counted) === 0 ? 1 : 0;
  return Math.max(...counted) + first <= ZONE_COUNT_MAX ? counted.map((n) => n + first) : null;
}

/** Zones by letters, of which one is an A; null = they do not count zones. */
function lettered(letters: readonly (string | null)[]): readonly number[] | null {
  return letters.includes('a')
    ? numbered(letters.map((letter) => (letter === null ? null : letter.charCodeAt(0) - 96)))
    : null;
}

/** Set-points, powers and faults, each with the temperature that it belongs to; what belongs to none for sure is left out. */
export function matched(
  guesses: readonly Guess[],
  zones: readonly ZoneGuess[],
  letter: 's' | 'p' | 'f',
): ProposedRole[] {
  const free = new Set(zones);
  const found: ProposedRole[] = [];
  const take = (guess: Guess, zone: ZoneGuess, sure: boolean) => {
    free.delete(zone);
    found.push(asRole({ ...guess, sure: guess.sure && sure }, `${letter}${zone.zone}`));
  };
  const left: Guess[] = [];
  const shift = shiftOf(guesses, zones);
  const isNumbered = zones.every((zone) => indexOf(zone.guess.tokens) !== null);
  for (const guess of guesses) {
    if (shift !== 0) {
      const same = zones.find((zone) => indexOf(zone.guess.tokens) === Number(indexOf(guess.tokens)) - shift);
      if (same !== undefined) take(guess, same, false);
      continue;
    }
    const stem = stemOf(guess);
    // The same rest of the name; or part of one object ("zones.die.pwm"); or all of it ("chauffe corps" beside "corps"); or
    // the same number ("duty1" beside "Tz1").
    const ties: readonly ((zone: Guess) => boolean)[] = [
      (zone) => stemOf(zone) === stem && stem !== '',
      (zone) => parentOf(zone) !== '' && parentOf(zone) === parentOf(guess),
      (zone) => hasAll(guess.tokens, stemOf(zone)),
      (zone) => isNumbered && indexOf(zone.tokens) === indexOf(guess.tokens),
    ];
    const tied = ties.map((isTied) => [...free].filter((zone) => isTied(zone.guess)));
    const [only, ...others] = tied.find((some) => some.length > 0) ?? [];
    if (only !== undefined && others.length === 0) take(guess, only, true);
    // "Power 1" beside a zone 2 alone belongs to a zone that has not come yet.
    else if (!isNumbered || indexOf(guess.tokens) === null || others.length > 0) left.push(guess);
  }
  if (left.length === 0) return found;
  const rest = [...free];
  // As many as there are zones, in the same order: printed pair by pair or group by group.
  if (left.length === rest.length && (letter !== 'p' || left.length === 1 || haveNoWords(left))) {
    for (const [i, guess] of left.entries()) take(guess, rest[i] as ZoneGuess, left.length === 1);
    return found;
  }
  for (const guess of left) {
    const near = letter === 's' ? nearest(guess, free) : letter === 'p' ? driven(guess, free) : null;
    if (near !== null) take(guess, near, false);
  }
  return found;
}

/** By how much more they are numbered than their zones: 1 or −1 if one is counted from 0 and the other from 1, else 0. */
function shiftOf(guesses: readonly Guess[], zones: readonly ZoneGuess[]): number {
  const numbers = guesses.flatMap(({ tokens }) => indexOf(tokens) ?? []).sort((a, b) => a - b);
  const zoneNumbers = zones.flatMap(({ guess }) => indexOf(guess.tokens) ?? []).sort((a, b) => a - b);
  const shift = (numbers[0] ?? 0) - (zoneNumbers[0] ?? 0);
  const isShifted =
    numbers.length > 1 &&
    numbers.length === guesses.length &&
    numbers.length === zones.length &&
    numbers.every((n, i) => n === (zoneNumbers[i] ?? Number.NaN) + shift) &&
    Math.abs(shift) === 1 &&
    (numbers[0] === 0 || zoneNumbers[0] === 0);
  return isShifted ? shift : 0;
}

const parentOf = ({ field }: Guess) => field.name.slice(0, Math.max(0, field.name.lastIndexOf('.')));

const hasAll = (tokens: readonly string[], stem: string) =>
  /\p{L}{2}/u.test(stem) && stem.split(' ').every((part) => tokens.includes(part));

const haveNoWords = (guesses: readonly Guess[]) =>
  guesses.every((guess) => stemOf(guess).length <= 1 || /^\d+$/.test(stemOf(guess)));

/** What is left of a name without the parts that say what kind it is: "die", "1", "zones 0". */
function stemOf({ tokens }: Guess): string {
  const parts = tokens.filter(
    (token) =>
      /^\d+$/.test(token) ||
      !KINDS.some((kind) => kind !== 'turns' && nameScore([token], kind) > 0) ||
      placeOf([token]) !== null ||
      /^[a-h]$/.test(token),
  );
  return parts.filter((token) => !/^(?:c|t|s|p|f|h)$/.test(token)).join(' ');
}

function nearest(guess: Guess, zones: ReadonlySet<ZoneGuess>): ZoneGuess | null {
  let best: ZoneGuess | null = null;
  for (const zone of zones) {
    const apart = Math.abs(zone.guess.field.last - guess.field.last);
    if (best === null || apart < Math.abs(best.guess.field.last - guess.field.last)) best = zone;
  }
  return best;
}

/** Samples ahead at which a heater is looked for in its temperature: it takes some seconds to get there. */
const LAGS = [4, 10, 20, 30];
const FOLLOWS = 0.5;
const FOLLOWS_AHEAD = 0.2;

/** The zone whose temperature rises with this power; null = none that can be distinguished from the others. */
function driven(power: Guess, zones: ReadonlySet<ZoneGuess>): ZoneGuess | null {
  const [only, ...others] = zones;
  if (only !== undefined && others.length === 0) return only;
  const scored = [...zones]
    .map((zone) => ({ zone, r: Math.max(...LAGS.map((lag) => follows(power.field, zone.guess.field, lag))) }))
    .sort((a, b) => b.r - a.r);
  const [best, second] = scored;
  if (best === undefined || best.r < FOLLOWS || best.r - (second?.r ?? 0) < FOLLOWS_AHEAD) return null;
  return best.zone;
}

/** Correlation of the power with the rise of the temperature over the samples that follow, −1…1; 0 = nothing to say. */
function follows({ recent: power }: SeenField, { recent: temperature }: SeenField, lag: number): number {
  const powers: number[] = [];
  const rises: number[] = [];
  for (let i = 0; i + lag < power.length; i++) {
    const x = power[i] ?? Number.NaN;
    const y = (temperature[i + lag] ?? Number.NaN) - (temperature[i] ?? Number.NaN);
    if (Number.isNaN(x) || Number.isNaN(y)) continue;
    powers.push(x);
    rises.push(y);
  }
  return powers.length < 30 ? 0 : correlation(powers, rises);
}
