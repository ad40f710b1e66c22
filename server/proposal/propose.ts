import { isRole, type Role, ZONE_COUNT_MAX } from '../reading/names.ts';
import type { SeenField } from '../reading/seen-fields.ts';
import { unitFor, unitsOf } from '../reading/units.ts';
import { indexOf, KINDS, type Kind, nameScore, placeOf, tokensOf } from './name-evidence.ts';
import { isPrintedUnitOf, QUANTITY, valueScores } from './value-evidence.ts';

/** What a field is proposed to be. */
export interface ProposedRole {
  /** The field's name. */
  readonly name: string;
  readonly role: Role;
  /** Code of `unitsOf`; '' = the role has one unit only. */
  readonly unit: string;
  /** Name, unit and values all speak for it, and nothing comes near. */
  readonly sure: boolean;
  /** A raw count of the gauge: pins must turn it into mm before it is a diameter. */
  readonly needsPins: boolean;
}

interface Candidate {
  readonly kind: Kind;
  readonly unit: string;
  readonly score: number;
}

interface Guess extends Candidate {
  readonly field: SeenField;
  readonly tokens: readonly string[];
  readonly sure: boolean;
}

/** Below this nothing is proposed: a field that is left out does no harm, a wrong one does. */
const LEAST = 1.6;
const SURE = 3;
const SURE_AHEAD = 1;
/** Kinds that values alone may speak for. */
const NAMELESS: ReadonlySet<Kind> = new Set(['diameter', 'temperature', 'setpoint', 'uptime', 'number']);
/** Two axes of one gauge differ by less, as a share of the diameter. */
const AXES_DIFFER_MAX = 0.12;
const MEAN_WITHIN = 0.006;

/**
 * Propose what the fields of a line mean: at most one field a role. From names, printed units, ranges, and how values
 * move together. Nothing is watched until a user has confirmed it.
 * @param nominalMm what the diameter should be
 */
export function propose(fields: readonly SeenField[], nominalMm: number): readonly ProposedRole[] {
  const heatUnit = unitOfAll(fields, nominalMm);
  const guesses = fields.flatMap((field) => guessOf(field, fields, nominalMm, heatUnit) ?? []);
  const of = (kind: Kind) => guesses.filter((guess) => guess.kind === kind).sort((a, b) => b.score - a.score);
  const temperatures = zonesOf(inLineOrder(of('temperature'), fields));
  const proposed = [
    ...diameters(of('diameter'), nominalMm),
    ...temperatures.map(({ guess, zone }) => asRole(guess, `t${zone}`)),
    ...matched(inLineOrder(of('setpoint'), fields), temperatures, 's'),
    ...matched(inLineOrder(of('power'), fields), temperatures, 'p'),
    ...matched(inLineOrder(of('fault'), fields), temperatures, 'f'),
    ...single(of('length'), 'len'),
    ...single(speedsBy(of('speed'), of('length')[0] ?? null), 'v'),
    ...single(of('screw'), 'rpm'),
    ...single(of('current'), 'amp'),
    ...single(of('pressure'), 'bar'),
    ...single(of('turns'), 'turns'),
    ...single(of('room'), 'ta'),
    ...single(of('humidity'), 'rh'),
    ...uptime(of('uptime')),
    ...single(of('number'), 'n'),
  ];
  if (!proposed.some(({ role }) => role === 'd' || role === 'dx')) proposed.push(...rawGauge(fields, proposed));
  proposed.push(...leftOverSpeed(fields, proposed));
  const order = new Map(fields.map(({ name }, i) => [name, i]));
  return proposed.sort((a, b) => (order.get(a.name) ?? 0) - (order.get(b.name) ?? 0));
}

/** A board sends all temperatures in one unit: the one that suits them best together. */
function unitOfAll(fields: readonly SeenField[], nominalMm: number): string {
  const sums = unitsOf('temperature').map(({ code }) => {
    let sum = 0;
    for (const field of fields) {
      const tokens = tokensOf(field.name);
      for (const kind of ['temperature', 'setpoint'] as const) {
        if (nameScore(tokens, kind) < 1 && field.unit === '') continue;
        const score = valueScores(field, kind, nominalMm).find(({ unit }) => unit === code)?.score ?? 0;
        sum += Math.max(-2, score);
      }
    }
    return { code, sum };
  });
  return sums.reduce((best, one) => (one.sum > best.sum + 1e-9 ? one : best)).code;
}

function guessOf(field: SeenField, fields: readonly SeenField[], nominalMm: number, heatUnit: string): Guess | null {
  if (field.count === 0) return null;
  const isNameless = hasNoName(field, fields);
  const tokens = isNameless ? [] : tokensOf(field.name);
  const candidates = KINDS.flatMap((kind): Candidate[] => {
    const name = isNameless ? 0 : (exactScore(field.name, kind) ?? nameScore(tokens, kind));
    // "Setpoint" next to a diameter, or "target speed", is what should be, not what is.
    if (kind !== 'setpoint' && nameScore(tokens, 'setpoint') >= 3) return [];
    const byValue = NAMELESS.has(kind) && (isNameless || field.unit !== '' || kind === 'diameter');
    if (name === 0 && !byValue && !isPrintedUnitOf(field.unit, kind)) return [];
    return valueScores(field, kind, nominalMm)
      .filter(({ unit }) => QUANTITY[kind] !== 'temperature' || unit === heatUnit || field.unit !== '')
      .map(({ unit, score }) => ({ kind, unit, score: name + score + context(field, fields, kind, isNameless) }));
  }).sort((a, b) => b.score - a.score);
  const [best, second] = candidates;
  if (best === undefined || best.score < LEAST) return null;
  const ahead = best.score - (second?.score ?? Number.NEGATIVE_INFINITY);
  return { ...best, field, tokens, sure: best.score >= SURE && ahead >= SURE_AHEAD };
}

/** Columns without a header, and a list behind one word ("FIL", "FIL 2", "FIL 3"), have names that say nothing. */
function hasNoName({ name }: SeenField, fields: readonly SeenField[]): boolean {
  if (/^(?:column|value|field)\s?\d+$/i.test(name) || /^[\d\W]*$/.test(name)) return true;
  const stem = name.replace(/ \d+$/, '');
  return [2, 3].every((n) => fields.some((field) => field.name === `${stem} ${n}`));
}

/** A name of the reading-line contract needs no guess. */
function exactScore(name: string, kind: Kind): number | null {
  if (!isRole(name)) return null;
  return ROLE_KIND[name.replace(/\d$/, '')] === kind ? 4 : 0;
}

const ROLE_KIND: Readonly<Record<string, Kind>> = {
  d: 'diameter',
  dx: 'diameter',
  dy: 'diameter',
  t: 'temperature',
  s: 'setpoint',
  p: 'power',
  f: 'fault',
  v: 'speed',
  len: 'length',
  rpm: 'screw',
  amp: 'current',
  bar: 'pressure',
  turns: 'turns',
  ta: 'room',
  rh: 'humidity',
  ms: 'uptime',
  us: 'uptime',
  n: 'number',
};

/** Without a name only company tells a set-point: it stands still near a temperature that moves. */
function context(field: SeenField, fields: readonly SeenField[], kind: Kind, isNameless: boolean): number {
  if (!isNameless || (kind !== 'setpoint' && kind !== 'temperature')) return 0;
  const steady = field.count > 3 && field.lowest === field.highest;
  const hasMovingNeighbour = fields.some(
    (other) => other !== field && other.lowest < other.highest && Math.abs(other.last - field.last) < 25,
  );
  if (kind === 'setpoint') return steady && hasMovingNeighbour && field.last > 100 ? 1.5 : Number.NEGATIVE_INFINITY;
  return field.highest > 120 ? 0.2 : Number.NEGATIVE_INFINITY;
}

function inLineOrder(guesses: readonly Guess[], fields: readonly SeenField[]): readonly Guess[] {
  return fields.flatMap((field) => guesses.find((guess) => guess.field === field) ?? []);
}

function asRole({ field, unit, sure }: Guess, role: string): ProposedRole {
  if (!isRole(role)) throw new TypeError(`“${role}” is no role`);
  return { name: field.name, role, unit: unitFor(role, unit) === null ? '' : unit, sure, needsPins: false };
}

function single(guesses: readonly Guess[], role: Role): ProposedRole[] {
  const [best] = guesses;
  return best === undefined ? [] : [asRole(best, role)];
}

/** One is the diameter; two that agree are the axes of one gauge, also where a third is their mean. */
function diameters(guesses: readonly Guess[], nominalMm: number): ProposedRole[] {
  const [best] = guesses;
  if (best === undefined) return [];
  const mm = ({ field, unit }: Guess) => field.last * (unitFor('d', unit)?.factor ?? 1);
  const axes = guesses.filter(
    (guess) => guess.unit === best.unit && Math.abs(mm(guess) - mm(best)) < AXES_DIFFER_MAX * nominalMm,
  );
  const mean =
    axes.length < 3
      ? undefined
      : axes.find((one) =>
          isMeanOf(
            one,
            axes.filter((other) => other !== one),
          ),
        );
  const two = axes.filter((one) => one !== mean && !/^(?:mean|avg|average|mittel|med)/.test(one.tokens.at(-1) ?? ''));
  if (two.length !== 2) return [asRole(best, 'd')];
  const [x, y] = two.sort((a, b) => axisOf(a) - axisOf(b)) as [Guess, Guess];
  return [asRole(x, 'dx'), asRole(y, 'dy')];
}

function isMeanOf(one: Guess, [a, b]: readonly Guess[]): boolean {
  if (a === undefined || b === undefined) return false;
  return one.field.recent.every((value, i) => {
    const mean = ((a.field.recent[i] ?? Number.NaN) + (b.field.recent[i] ?? Number.NaN)) / 2;
    return Number.isNaN(mean) || Number.isNaN(value) || Math.abs(value - mean) <= MEAN_WITHIN * Math.abs(mean);
  });
}

function axisOf({ tokens }: Guess): number {
  if (tokens.some((token) => /^(?:dx|x|a|h|horizontal)$/.test(token))) return 0;
  if (tokens.some((token) => /^(?:dy|y|b|v|vertical)$/.test(token))) return 2;
  return indexOf(tokens) ?? 1;
}

interface ZoneGuess {
  readonly guess: Guess;
  readonly zone: number;
}

/** Zones by the numbers in the names, else by where the names say that they are, else in the order of the line. */
function zonesOf(guesses: readonly Guess[]): readonly ZoneGuess[] {
  const some = guesses.slice(0, ZONE_COUNT_MAX);
  const numbers = some.map(({ tokens }) => indexOf(tokens));
  const isNumbered = numbers.every((n) => n !== null) && new Set(numbers).size === numbers.length;
  if (isNumbered) {
    const counted = numbers.map((n) => n ?? 0);
    const first = Math.min(...counted) === 0 ? 1 : 0;
    if (Math.max(...counted) + first <= ZONE_COUNT_MAX)
      return some.map((guess, i) => ({ guess, zone: (counted[i] ?? 0) + first }));
  }
  const places = some.map(({ tokens }) => placeOf(tokens));
  const sorted = places.every((place) => place !== null)
    ? some
        .map((guess, i) => ({ guess, place: places[i] ?? 0 }))
        .sort((a, b) => a.place - b.place)
        .map(({ guess }) => guess)
    : some;
  return sorted.map((guess, i) => ({ guess, zone: i + 1 }));
}

/** Set-points, powers and faults, each with the temperature that it belongs to; what belongs to none for sure is left out. */
function matched(guesses: readonly Guess[], zones: readonly ZoneGuess[], letter: 's' | 'p' | 'f'): ProposedRole[] {
  const free = new Set(zones);
  const found: ProposedRole[] = [];
  const take = (guess: Guess, zone: ZoneGuess, sure: boolean) => {
    free.delete(zone);
    found.push(asRole({ ...guess, sure: guess.sure && sure }, `${letter}${zone.zone}`));
  };
  const left: Guess[] = [];
  for (const guess of guesses) {
    const stem = stemOf(guess);
    const named = [...free].filter(({ guess: zone }) => stemOf(zone) === stem && stem !== '');
    const [only] = named;
    if (named.length === 1 && only !== undefined) take(guess, only, true);
    else left.push(guess);
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
  const telling = parts.filter((token) => !/^(?:c|t|s|p|f|h)$/.test(token));
  return telling.join(' ');
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
  const pairs: [number, number][] = [];
  for (let i = 0; i + lag < power.length; i++) {
    const x = power[i] ?? Number.NaN;
    const y = (temperature[i + lag] ?? Number.NaN) - (temperature[i] ?? Number.NaN);
    if (!Number.isNaN(x) && !Number.isNaN(y)) pairs.push([x, y]);
  }
  if (pairs.length < 30) return 0;
  const meanX = pairs.reduce((sum, [x]) => sum + x, 0) / pairs.length;
  const meanY = pairs.reduce((sum, [, y]) => sum + y, 0) / pairs.length;
  let xx = 0;
  let yy = 0;
  let xy = 0;
  for (const [x, y] of pairs) {
    xx += (x - meanX) ** 2;
    yy += (y - meanY) ** 2;
    xy += (x - meanX) * (y - meanY);
  }
  return xx === 0 || yy === 0 ? 0 : xy / Math.sqrt(xx * yy);
}

/** A counter of length tells the unit of the speed: both must say the same. */
function speedsBy(speeds: readonly Guess[], length: Guess | null): readonly Guess[] {
  const [speed] = speeds;
  if (speed === undefined || length === null || !(length.field.perS > 0)) return speeds;
  const mmPerS = length.field.perS * (unitFor('len', length.unit)?.factor ?? 1);
  const fitting = unitsOf('speed').find(({ factor }) => Math.abs((speed.field.last * factor) / mmPerS - 1) < 0.25);
  return fitting === undefined ? speeds : [{ ...speed, unit: fitting.code, sure: true }];
}

function uptime(guesses: readonly Guess[]): ProposedRole[] {
  const [best] = guesses;
  if (best === undefined) return [];
  return [asRole(best, best.field.name === 'us' ? 'us' : 'ms')];
}

/** The one value without a name that is left next to a diameter and a temperature, and moves as a puller does. */
function leftOverSpeed(fields: readonly SeenField[], proposed: readonly ProposedRole[]): ProposedRole[] {
  const has = (pattern: RegExp) => proposed.some(({ role }) => pattern.test(role));
  if (!has(/^dx?$/) || !has(/^t\d$/) || has(/^(?:v|len)$/)) return [];
  const left = fields.filter((field) => hasNoName(field, fields) && !proposed.some(({ name }) => name === field.name));
  const [only, ...others] = left;
  if (only === undefined || others.length > 0) return [];
  const isSpeed = only.unit === '' && !only.rising && only.places > 0 && only.lowest >= 3 && only.highest <= 90;
  return isSpeed ? [{ name: only.name, role: 'v', unit: 'mm/s', sure: false, needsPins: false }] : [];
}

/** A gauge that sends what its converter reads: proposed, but a diameter only once pins have been measured. */
function rawGauge(fields: readonly SeenField[], proposed: readonly ProposedRole[]): ProposedRole[] {
  const taken = new Set(proposed.map(({ name }) => name));
  const raw = fields
    .filter(({ name, rising, count, lowest }) => !taken.has(name) && !rising && count > 0 && lowest >= 0)
    .map((field) => ({ field, score: nameScore(tokensOf(field.name), 'diameter') }))
    .sort((a, b) => b.score - a.score)[0];
  if (raw === undefined || raw.score < 1 || Number.isNaN(raw.field.last)) return [];
  return [{ name: raw.field.name, role: 'd', unit: 'mm', sure: false, needsPins: true }];
}
