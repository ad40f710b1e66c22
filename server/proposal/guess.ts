import { isRole } from '../reading/names.ts';
import type { SeenField } from '../reading/seen-fields.ts';
import { unitFor, unitsOf } from '../reading/units.ts';
import { KINDS, nameScore, namesNoSignal, rulesOut, tokensIn, tokensOf } from './name-evidence.ts';
import type { Kind } from './name-words.ts';
import { isPrintedUnitOf, QUANTITY, valueScores } from './value-evidence.ts';

interface Candidate {
  readonly kind: Kind;
  readonly unit: string;
  readonly score: number;
}

/** What one field probably is. */
export interface Guess extends Candidate {
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
/** What each field probably is, by its name, its unit, its values and its company. */
export function guessesOf(fields: readonly SeenField[], nominalMm: number): readonly Guess[] {
  const heatUnit = unitOfAll(fields, nominalMm);
  const guessed = fields.flatMap((field) => guessOf(field, fields, nominalMm, heatUnit) ?? []);
  const byName = likeSiblings(guessed);
  return withoutStill([...byName, ...besideEachOther(fields, byName)], fields);
}

/**
 * Whole degrees may stand still for seconds as a set-point does. Where nothing has a name, set-points are those that there is
 * one of for each temperature.
 */
function withoutStill(guesses: readonly Guess[], fields: readonly SeenField[]): readonly Guess[] {
  const nameless = (kind: Kind) => guesses.filter((guess) => guess.kind === kind && hasNoName(guess.field, fields));
  const setpoints = nameless('setpoint');
  if (setpoints.length === nameless('temperature').length) return guesses;
  return guesses.filter((guess) => !setpoints.includes(guess));
}

/** "Tz1" and "Tz2" are of one kind, even if one stands still for a while as a set-point does. */
function likeSiblings(guesses: readonly Guess[]): readonly Guess[] {
  const stemOf = ({ field }: Guess) => field.name.replaceAll(/\d+/g, '0');
  const moving = new Set(guesses.filter(({ kind }) => kind === 'temperature').map(stemOf));
  return guesses.map((guess) => {
    const isAlike = guess.kind === 'setpoint' && nameScore(guess.tokens, 'setpoint') === 0 && guess.tokens.length > 0;
    return isAlike && moving.has(stemOf(guess)) ? { ...guess, kind: 'temperature', sure: false } : guess;
  });
}

/** A board sends all temperatures in one unit: the one that suits them best together. */
function unitOfAll(fields: readonly SeenField[], nominalMm: number): string {
  const sums = unitsOf('temperature').map(({ code }) => {
    let sum = 0;
    for (const field of fields) {
      const tokens = tokensOf(field.name);
      for (const kind of ['temperature', 'setpoint'] as const) {
        if (nameScore(tokens, kind) < 1 && field.unit === '' && !isPaired(field, fields)) continue;
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
  const isNameless = hasNoName(field, fields) || isForeign(field, fields);
  const tokens = hasNoName(field, fields) ? [] : tokensIn(field.name, fields);
  if (namesNoSignal(tokens) || isScaleOfOther(field, fields, nominalMm, heatUnit)) return null;
  const pairedAs = isNameless ? null : kindInPair(field, fields, heatUnit);
  const candidates = KINDS.flatMap((kind): Candidate[] => {
    if (pairedAs !== null && kind !== pairedAs && QUANTITY[kind] === 'temperature') return [];
    const named = isNameless ? 0 : (exactScore(field.name, kind) ?? nameScore(tokens, kind));
    const name = kind === pairedAs ? Math.max(named, PAIRED) : named;
    // "Setpoint" next to a diameter, or "target speed", is what should be, not what is.
    if (rulesOut(tokens, kind) || (kind !== 'setpoint' && nameScore(tokens, 'setpoint') >= 3)) return [];
    const byValue = NAMELESS.has(kind) && (isNameless || field.unit !== '' || kind === 'diameter');
    // A wheel has a length too, but only one that grows counts the strand.
    if (kind === 'length' && name === 0 && !field.rising) return [];
    if (name === 0 && !byValue && !isPrintedUnitOf(field.unit, kind)) return [];
    return (
      valueScores(field, kind, nominalMm)
        .filter(({ unit }) => QUANTITY[kind] !== 'temperature' || unit === heatUnit || field.unit !== '')
        // As plain as a temperature, a hundredth of a millimetre needs a name.
        .filter(({ unit }) => unit !== '0.01mm' || name > 0)
        // Many a count is as large as a diameter in thousandths of an inch.
        .filter(({ unit }) => unit !== 'mil' || field.unit !== '')
        .filter(({ unit }) => kind !== 'uptime' || unit !== 's' || !isNameless || !isTimeOfDay(field))
        .map(({ unit, score }) => ({
          kind,
          unit,
          score: name + score + habit(tokens, unit) + context(field, fields, kind, isNameless, heatUnit),
        }))
    );
  }).sort((a, b) => b.score - a.score);
  const [best, second] = candidates;
  if (best === undefined || best.score < LEAST) return null;
  const ahead = best.score - (second?.score ?? Number.NEGATIVE_INFINITY);
  return { ...best, field, tokens, sure: best.score >= SURE && ahead >= SURE_AHEAD };
}

/** A pair says as much as a name. */
const PAIRED = 2;

/** What a field is by the one printed before or behind it, whatever their name: "MID 210.3/210", "melt 199.8 (200)". */
function kindInPair(
  field: SeenField,
  fields: readonly SeenField[],
  heatUnit: string,
): 'temperature' | 'setpoint' | null {
  const byName = (name: string) => fields.find((one) => one.name === name);
  const isPair = (actual: SeenField | undefined, set: SeenField | undefined) =>
    actual !== undefined &&
    set !== undefined &&
    !moves(set) &&
    isRound(set, heatUnit) &&
    areNear(actual, set, heatUnit);
  if (moves(field) && isPair(field, byName(`${field.name} /`))) return 'temperature';
  const [, stem = '', mark] = /^(.+) (\/|2)$/.exec(field.name) ?? [];
  const actual = byName(stem);
  // "T 199.8 210": a second temperature would be printed with as many digits.
  const isBehind = mark === '/' || (actual?.places ?? 0) > field.places;
  return isBehind && isPair(actual, field) ? 'setpoint' : null;
}

/** "fan 128/255": what stands behind the slash is a set-point only if a temperature stands before it. */
function isScaleOfOther(field: SeenField, fields: readonly SeenField[], nominalMm: number, heatUnit: string): boolean {
  const base = / \/$/.test(field.name) ? fields.find(({ name }) => `${name} /` === field.name) : undefined;
  return base !== undefined && guessOf(base, fields, nominalMm, heatUnit)?.kind !== 'temperature';
}

/** Columns without a header, and a list behind one word ("FIL", "FIL 2", "FIL 3"), have names that say nothing. */
export function hasNoName({ name }: SeenField, fields: readonly SeenField[]): boolean {
  if (/^(?:column|value|field)\s?\d+$/i.test(name) || !/[\p{L}@]/u.test(name)) return true;
  const stem = name.replace(/ \d+$/, '');
  return [2, 3].every((n) => fields.some((field) => field.name === `${stem} ${n}`));
}

/** So few of the names are understood where a sketch is written in a language that we don't read. */
const UNDERSTOOD_SHARE = 0.35;
const FOREIGN_NAMES = 3;
const foreignLines = new WeakMap<readonly SeenField[], boolean>();

/** A name that says nothing to us, in a line of such names, counts as none: its value speaks. */
function isForeign({ name }: SeenField, fields: readonly SeenField[]): boolean {
  return !isUnderstood(name, fields) && isForeignLine(fields);
}

function isForeignLine(fields: readonly SeenField[]): boolean {
  const known = foreignLines.get(fields);
  if (known !== undefined) return known;
  const names = fields.filter((field) => !hasNoName(field, fields)).map(({ name }) => name);
  const understood = names.filter((name) => isUnderstood(name, fields)).length;
  const isSo = names.length >= FOREIGN_NAMES && understood <= UNDERSTOOD_SHARE * names.length;
  foreignLines.set(fields, isSo);
  return isSo;
}

function isUnderstood(name: string, fields: readonly SeenField[]): boolean {
  const tokens = tokensIn(name, fields);
  return namesNoSignal(tokens) || KINDS.some((kind) => exactScore(name, kind) !== null || nameScore(tokens, kind) >= 1);
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

/** The signs `@:` print heater power of 127, and what is called PWM is the 0…255 of an 8-bit timer; common practice, no source. */
function habit(tokens: readonly string[], unit: string): number {
  const isUsual = (unit === 'of127' && tokens.includes('@')) || (unit === 'of255' && tokens.includes('pwm'));
  return isUsual ? 0.6 : 0;
}

/** The time of day as hhmmss counts seconds too, but jumps at each full minute. */
function isTimeOfDay({ last, recent }: SeenField): boolean {
  return last >= 100 && recent.every((value) => Number.isNaN(value) || (value % 100 < 60 && (value / 100) % 100 < 60));
}

/** A set-point is so near to its temperature, °C, once the zone is hot. */
const HOT_WITHIN_C = 25;
const HOT_FROM_C = 100;

/** Two axes of a gauge agree so well, as a share. */
const TWIN_WITHIN = 0.03;
const isNear = (a: number, b: number, share: number) => Math.abs(a - b) <= share * Math.abs(b);
/** Set-points are round numbers; common practice, no source. */
const ROUND_C = 5;

const STEADY_FROM = 3;
const isSteady = ({ count, lowest, highest }: SeenField) => count > STEADY_FROM && lowest === highest;
const moves = ({ lowest, highest }: SeenField) => lowest < highest;

/** Without a name only company tells a set-point: it stands still near a temperature that moves. */
function context(
  field: SeenField,
  fields: readonly SeenField[],
  kind: Kind,
  isNameless: boolean,
  heatUnit: string,
): number {
  if (kind === 'diameter') {
    const others = fields.filter((one) => one !== field && moves(one));
    if (isSteady(field)) return others.length > 0 ? -0.5 : 0;
    const hasTwin = others.some((one) => one.places === field.places && isNear(one.last, field.last, TWIN_WITHIN));
    if (hasTwin) return 1;
    // A current of 1.8 A is named as one.
    const tokens = isNameless ? [] : tokensOf(field.name);
    return nameScore(tokens, 'diameter') === 0 && KINDS.some((other) => nameScore(tokens, other) >= 2) ? -1.5 : 0;
  }
  if (kind === 'number') return isNameless && field.count < NUMBER_LINES ? Number.NEGATIVE_INFINITY : 0;
  if (kind === 'temperature' && !isNameless)
    return isWordless(field, kind) && !moves(field) && (!wasLookedAt(field) || field.count <= STEADY_FROM)
      ? Number.NEGATIVE_INFINITY
      : 0;
  if (!isNameless || (kind !== 'setpoint' && kind !== 'temperature')) return 0;
  if (!wasLookedAt(field)) return Number.NEGATIVE_INFINITY;
  if (kind === 'setpoint') return isNamelessSetpoint(field, fields, heatUnit) ? 1.5 : Number.NEGATIVE_INFINITY;
  return isNamelessTemperature(field, fields, heatUnit) ? 0.2 : Number.NEGATIVE_INFINITY;
}

const isWordless = ({ name }: SeenField, kind: Kind) => nameScore(tokensOf(name), kind) === 0;

/** A value without a name says little before it was looked at so often: a power looks like a temperature, too. */
const LOOKS = 4;
const wasLookedAt = ({ recent }: SeenField) => recent.filter((value) => !Number.isNaN(value)).length >= LOOKS;
/** A temperature in tenths may rise by one for some lines. */
const NUMBER_LINES = 12;

function isNamelessSetpoint(field: SeenField, fields: readonly SeenField[], heatUnit: string): boolean {
  const isNear = fields.some((other) => other !== field && moves(other) && areNear(other, field, heatUnit));
  return isSteady(field) && isNear && isRound(field, heatUnit);
}

/** Sensors of one board print alike, and once a set-point is known, each is near one; powers of 255 are neither. */
function isNamelessTemperature(field: SeenField, fields: readonly SeenField[], heatUnit: string): boolean {
  const { factor, offset } = unitFor('t1', heatUnit) ?? { factor: 1, offset: 0 };
  if (!(field.highest > HOT_COUNTS) || field.lowest * factor + offset < COLDEST_C) return false;
  const isNameless = (other: SeenField) => hasNoName(other, fields) || isForeign(other, fields);
  const others = fields.filter((other) => other !== field && !other.rising && isNameless(other));
  if (others.some((other) => other.places > field.places && other.highest > HOT_COUNTS && moves(other))) return false;
  const setpoints = others.filter((other) => isNamelessSetpoint(other, fields, heatUnit));
  return setpoints.length === 0 || setpoints.some((setpoint) => areNear(setpoint, field, heatUnit));
}

/** No workshop is so cold: several quantities are printed in turn. */
const COLDEST_C = 5;

/** Lower values without a name are more often something else. */
const HOT_COUNTS = 120;

function areNear(a: SeenField, b: SeenField, heatUnit: string): boolean {
  return Math.abs(a.last - b.last) < HOT_WITHIN_C / (unitFor('t1', heatUnit)?.factor ?? 1);
}

function isRound({ last, places }: SeenField, heatUnit: string): boolean {
  const { factor, offset } = unitFor('t1', heatUnit) ?? { factor: 1, offset: 0 };
  const isIn = (value: number, step: number, within: number) =>
    Math.abs(value - Math.round(value / step) * step) <= within;
  const printedStep = factor < 0.2 ? ROUND_C / factor : ROUND_C;
  // What is set in °C and printed in K or °F is rounded there.
  return (
    last > 100 && (isIn(last, printedStep, 0) || isIn(last * factor + offset, ROUND_C, 0.51 * factor * 10 ** -places))
  );
}

/** Next to each other, one standing still and one moving near it. */
function isPaired(field: SeenField, fields: readonly SeenField[]): boolean {
  const at = fields.indexOf(field);
  return [fields[at - 1], fields[at + 1]].some(
    (other) =>
      other !== undefined &&
      isSteady(field) !== isSteady(other) &&
      field.last > HOT_FROM_C &&
      Math.abs(other.last - field.last) < 0.1 * field.last,
  );
}

/**
 * Fields whose names say nothing to us, recognised by their company: beside each set-point a temperature near it, or
 * behind each temperature a value that stands still near it.
 */
function besideEachOther(fields: readonly SeenField[], guesses: readonly Guess[]): readonly Guess[] {
  const guessed = (field: SeenField | undefined) => guesses.find((guess) => guess.field === field);
  const unknown = (field: SeenField | undefined): field is SeenField =>
    field !== undefined && guessed(field) === undefined && !namesNoSignal(tokensOf(field.name)) && !field.rising;
  const pairsOf = (kind: Kind, other: Kind, steps: readonly number[]): Guess[] => {
    const known = guesses.filter((guess) => guess.kind === kind);
    if (guesses.some((guess) => guess.kind === other)) return [];
    const found = known.flatMap((guess): Guess[] => {
      const { factor, offset } = unitFor('t1', guess.unit) ?? { factor: 1, offset: 0 };
      const celsius = (value: number) => value * factor + offset;
      const at = fields.indexOf(guess.field);
      const neighbour = steps
        .map((step) => fields[at + step])
        .filter(unknown)
        .find(
          (field) =>
            isSteady(field) === (other === 'setpoint') &&
            celsius(field.last) > HOT_FROM_C &&
            Math.abs(celsius(field.last) - celsius(guess.field.last)) < HOT_WITHIN_C,
        );
      if (neighbour === undefined) return [];
      const tokens = hasNoName(neighbour, fields) ? [] : tokensOf(neighbour.name);
      return [{ kind: other, unit: guess.unit, score: LEAST, field: neighbour, tokens, sure: false }];
    });
    return found.length === known.length ? found : [];
  };
  // Printed group by group: as many as there are temperatures, each near its own.
  const groupOfSetpoints = (): Guess[] => {
    const known = guesses.filter((guess) => guess.kind === 'temperature');
    if (known.length < 2 || guesses.some((guess) => guess.kind === 'setpoint')) return [];
    const still = fields.filter((field) => unknown(field) && isSteady(field) && isRound(field, known[0]?.unit ?? 'C'));
    const fits = still.every((field, i) => known[i] !== undefined && areNear(field, known[i].field, known[i].unit));
    if (still.length !== known.length || !fits) return [];
    const unit = known[0]?.unit ?? 'C';
    return still.map((field) => ({
      kind: 'setpoint',
      unit,
      score: LEAST,
      field,
      tokens: tokensIn(field.name, fields),
      sure: false,
    }));
  };
  const pairs = [...pairsOf('setpoint', 'temperature', [-1, 1]), ...pairsOf('temperature', 'setpoint', [1])];
  return pairs.length > 0 ? pairs : groupOfSetpoints();
}
