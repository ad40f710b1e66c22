import type { Role } from '../reading/names.ts';
import type { SeenField } from '../reading/seen-fields.ts';
import { unitFor, unitsOf, WHEEL_TURNS } from '../reading/units.ts';
import { diameters } from './axes.ts';
import { type Guess, guessesOf, hasNoName } from './guess.ts';
import { nameScore, placeInSeries, tokensOf, unitInName } from './name-evidence.ts';
import type { Kind } from './name-words.ts';
import { asRole, type ProposedRole } from './proposed-role.ts';
import { isPrintedUnitOf } from './value-evidence.ts';
import { matched, zonesOf } from './zones.ts';

export type { ProposedRole } from './proposed-role.ts';

/**
 * Propose what the fields of a line mean: at most one field a role. From names, printed units, ranges, and how values
 * move together. Nothing is watched until a user has confirmed it.
 * @param nominalMm what the diameter should be
 */
export function propose(seen: readonly SeenField[], nominalMm: number): readonly ProposedRole[] {
  const fields = seen.map((field) =>
    field.unit === '' && placeInSeries(field.name, seen) === 0
      ? { ...field, unit: unitInName(field.name).unit }
      : field,
  );
  const guesses = guessesOf(fields, nominalMm);
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
  proposed.push(...turnsOfPuller(fields, proposed));
  proposed.push(...leftOverSpeed(fields, proposed));
  const order = new Map(fields.map(({ name }, i) => [name, i]));
  return proposed.sort((a, b) => (order.get(a.name) ?? 0) - (order.get(b.name) ?? 0));
}

function inLineOrder(guesses: readonly Guess[], fields: readonly SeenField[]): readonly Guess[] {
  return fields.flatMap((field) => guesses.find((guess) => guess.field === field) ?? []);
}

function single(guesses: readonly Guess[], role: Role): ProposedRole[] {
  const [best] = guesses;
  return best === undefined ? [] : [asRole(best, role)];
}

/** A counter of length tells the unit of the speed: both must say the same. */
function speedsBy(speeds: readonly Guess[], length: Guess | null): readonly Guess[] {
  const [speed] = speeds;
  if (speed === undefined || length === null || !(length.field.perS > 0)) return speeds;
  const mmPerS = length.field.perS * (unitFor('len', length.unit)?.factor ?? 1);
  const fitting = unitsOf('speed').find(
    ({ code, factor }) => code !== WHEEL_TURNS && Math.abs((speed.field.last * factor) / mmPerS - 1) < 0.25,
  );
  return fitting === undefined ? speeds : [{ ...speed, unit: fitting.code, sure: true }];
}

function uptime(guesses: readonly Guess[]): ProposedRole[] {
  const [best] = guesses;
  if (best === undefined) return [];
  return [asRole(best, best.field.name === 'us' ? 'us' : 'ms')];
}

/** Wheels of pullers, mm; common practice, no source. */
const WHEEL_MM = { min: 5, max: 400 };

/** Turns of the puller are a speed where the board also says how large its wheel is. */
function turnsOfPuller(fields: readonly SeenField[], proposed: readonly ProposedRole[]): ProposedRole[] {
  if (proposed.some(({ role }) => role === 'v')) return [];
  const turns = fields.find(({ name, unit, rising }) => {
    const tokens = tokensOf(name);
    const perMinute = isPrintedUnitOf(unit, 'screw') || tokens.some((token) => /^(?:rpm|upm)$/.test(token));
    return perMinute && !rising && nameScore(tokens, 'speed') >= 2;
  });
  const wheel = fields.find(({ name, unit, lowest, highest }) => {
    const mm = lowest * (unitFor('d', unit)?.factor ?? 0);
    return lowest === highest && mm >= WHEEL_MM.min && mm <= WHEEL_MM.max && tokensOf(name).some(isWheel);
  });
  if (turns === undefined || wheel === undefined) return [];
  const factor = wheel.last * (unitFor('d', wheel.unit)?.factor ?? 1);
  return [{ name: turns.name, role: 'v', unit: WHEEL_TURNS, factor, sure: false, needsPins: false }];
}

const isWheel = (token: string) =>
  /^(?:wheel|roller|rad|rolle|walze|rueda|rodillo|roue|galet|ruota|rullo|roda|wiel|rol|kolo|hjul|колесо)$/.test(token);

/** The one value without a name that is left next to a diameter and a temperature, and moves as a puller does. */
function leftOverSpeed(fields: readonly SeenField[], proposed: readonly ProposedRole[]): ProposedRole[] {
  const has = (pattern: RegExp) => proposed.some(({ role }) => pattern.test(role));
  if (!has(/^dx?$/) || !has(/^t\d$/) || has(/^(?:v|len)$/)) return [];
  const left = fields.filter((field) => hasNoName(field, fields) && !proposed.some(({ name }) => name === field.name));
  const [only, ...others] = left;
  if (only === undefined || others.length > 0) return [];
  const isSpeed = only.unit === '' && !only.rising && only.places > 0 && only.lowest >= 3 && only.highest <= 90;
  return isSpeed ? [{ name: only.name, role: 'v', unit: 'mm/s', factor: 1, sure: false, needsPins: false }] : [];
}

/** A gauge that sends what its converter reads: proposed, but a diameter only once pins have been measured. */
function rawGauge(fields: readonly SeenField[], proposed: readonly ProposedRole[]): ProposedRole[] {
  const taken = new Set(proposed.map(({ name }) => name));
  const raw = fields
    .filter(({ name, rising, count, lowest }) => !taken.has(name) && !rising && count > 0 && lowest >= 0)
    .map((field) => ({ field, score: nameScore(tokensOf(field.name), 'diameter') }))
    .sort((a, b) => b.score - a.score)[0];
  if (raw === undefined || raw.score < 1 || Number.isNaN(raw.field.last)) return [];
  return [{ name: raw.field.name, role: 'd', unit: 'mm', factor: 1, sure: false, needsPins: true }];
}
