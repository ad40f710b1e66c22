import type { IncomingView } from '../../server/api/contract/incoming.ts';
import { isRole, type Role } from '../../server/reading/names.ts';
import { inRoleUnit, type Unit, unitFor, WHEEL_TURNS } from '../../server/reading/units.ts';
import type { LineSettings } from '../../server/settings/line-settings.ts';
import { canBeStrand } from '../../server/strand/possible-diameter.ts';
import { unitChoices, valueText } from './role-text.ts';

export type Mapping = LineSettings['roles'][number];

/** What a field is said to be. */
export interface Meaning {
  /** null = not used. */
  readonly role: Role | null;
  /** Code of the unit of the value after factor and offset; '' = that of the role. */
  readonly unit: string;
  /** null while the text is not a number. */
  readonly factor: number | null;
  readonly offset: number | null;
  /** Factor and offset were measured with pins. */
  readonly isCalibrated: boolean;
}

/** What was chosen on the page and is not saved yet, by the name of the field. */
export type Choices = Readonly<Record<string, Meaning>>;

/** A field of the line with what it means, as the page shows it. */
export interface SignalRow extends Meaning {
  readonly name: string;
  /** As printed after the value; '' = none. */
  readonly printedUnit: string;
  readonly last: number | null;
  readonly lowest: number | null;
  readonly highest: number | null;
  /** False = assigned earlier, but the line does not send it now. */
  readonly isSent: boolean;
  /** Where the meaning comes from. */
  readonly from: 'name' | 'saved' | 'choice' | 'proposal' | 'nothing';
  /** False = the proposal must be checked. */
  readonly isSure: boolean;
  /** A raw count of the gauge, which two pins must turn into a diameter before it can be used. */
  readonly needsPins: boolean;
  /** The proposal for it is refused here; once that is saved, nothing is proposed for it again. */
  readonly isDeclined: boolean;
}

const MEANING_PARTS = [
  'role',
  'unit',
  'factor',
  'offset',
  'isCalibrated',
] as const satisfies readonly (keyof Meaning)[];
/** As many as the settings keep. */
const UNUSED_MAX = 64;

const NOTHING: Meaning = { role: null, unit: '', factor: 1, offset: 0, isCalibrated: false };

const SURE = { isSure: true, needsPins: false, isDeclined: false };

/**
 * Every field of the line with what it means: as chosen here, else as saved, else by its name, else as proposed. Saved
 * meanings of names that are not sent now come last, unless a field that is sent has their role.
 */
export function signalRows(
  { fields, proposed }: Pick<IncomingView, 'fields' | 'proposed'>,
  saved: readonly Mapping[],
  choices: Choices,
  nominalMm: number,
): readonly SignalRow[] {
  const chosenRoles = new Set(Object.values(choices).flatMap(({ role }) => role ?? []));
  const settled = fields.map((field): SignalRow => {
    const { name, unit: printedUnit, last, lowest, highest } = field;
    const mapping = saved.find((one) => one.name === name);
    const choice = choices[name];
    const isDeclined = choice?.role === null && proposed.some((one) => one.name === name);
    const values = { name, printedUnit, last, lowest, highest, isSent: true, ...SURE, isDeclined };
    if (choice !== undefined)
      return { ...values, ...choice, from: 'choice', needsPins: isRawGauge(choice, last, nominalMm) };
    if (mapping !== undefined) return { ...values, ...meaningOf(mapping), from: 'saved' };
    const own = field.mapping === null && field.role !== null && !chosenRoles.has(field.role) ? field.role : null;
    if (own !== null) return { ...values, ...asSent(own), from: 'name' };
    return { ...values, ...NOTHING, from: 'nothing' };
  });
  const taken = new Set(settled.flatMap(({ role }) => role ?? []));
  const sent = settled.map((row): SignalRow => {
    const proposal = row.from === 'nothing' ? proposed.find(({ name }) => name === row.name) : undefined;
    if (proposal === undefined || taken.has(proposal.role)) return row;
    const { role, unit, factor, sure, needsPins } = proposal;
    return { ...row, role, unit, factor, from: 'proposal', isSure: sure, needsPins };
  });
  const used = new Set(sent.flatMap(({ role }) => role ?? []));
  const absent = saved.flatMap((mapping): SignalRow[] => {
    const { name } = mapping;
    const meaning = choices[name] ?? meaningOf(mapping);
    if (fields.some((field) => field.name === name) || (meaning.role !== null && used.has(meaning.role))) return [];
    const values = { printedUnit: '', last: null, lowest: null, highest: null, isSent: false, ...SURE };
    const from = choices[name] === undefined ? 'saved' : 'choice';
    return [{ name, ...values, ...meaning, from }];
  });
  return [...sent, ...absent];
}

/** The mapping to save: what is chosen, saved and proposed. A raw count that still needs its pins is left out. */
export function mappingOf(rows: readonly SignalRow[]): readonly Mapping[] {
  return rows.flatMap(({ name, role, unit, factor, offset, isCalibrated, from, needsPins }): Mapping[] => {
    if (role === null || from === 'name' || needsPins) return [];
    const extra = { ...(unit === '' ? {} : { unit }), ...(isCalibrated ? { calibrated: true } : {}) };
    return [{ name, role, factor: factor ?? 1, offset: offset ?? 0, ...extra }];
  });
}

/** Names of the fields for which nothing is proposed again. */
export function unusedOf(rows: readonly SignalRow[], saved: readonly string[]): readonly string[] {
  const declined = rows.flatMap(({ name, isDeclined }) => (isDeclined ? name : []));
  const used = new Set(rows.flatMap(({ name, role }) => (role === null ? [] : name)));
  return [...new Set([...saved, ...declined])].filter((name) => !used.has(name)).slice(-UNUSED_MAX);
}

/** What saving would change: signals that get a meaning, and others that get another one or none. */
export function unsaved(rows: readonly SignalRow[], saved: readonly Mapping[]) {
  const pending = rows.filter(
    (row) =>
      (row.from === 'proposal' && !row.needsPins) ||
      row.isDeclined ||
      (row.from === 'choice' && !row.needsPins && !isAsSaved(row, saved)),
  );
  const total = pending.length;
  const signals = pending.filter((row) => row.role !== null && !saved.some(({ name }) => name === row.name)).length;
  return { total, signals, changes: total - signals };
}

function isAsSaved(row: SignalRow, saved: readonly Mapping[]): boolean {
  const mapping = saved.find(({ name }) => name === row.name);
  if (mapping === undefined) return row.role === null;
  const meaning = meaningOf(mapping);
  return MEANING_PARTS.every((part) => meaning[part] === row[part]);
}

/** Whether the service has other meanings for these fields than the settings that were read. */
export function isBehind(saved: readonly Mapping[], fields: IncomingView['fields']): boolean {
  return fields.some(({ name, mapping }) => {
    const known = saved.find((one) => one.name === name);
    if (known === undefined || mapping === null) return known !== undefined || mapping !== null;
    return (['role', 'unit', 'factor', 'offset', 'calibrated'] as const).some((part) => known[part] !== mapping[part]);
  });
}

/** Why the rows cannot be saved; null = they can. */
export function signalFault(rows: readonly SignalRow[], nominalMm: number): string | null {
  for (const row of rows) {
    const other = rows.find((one) => one !== row && one.role !== null && one.role === row.role);
    if (other !== undefined) return `“${row.name}” and “${other.name}” have the same meaning. Change one of them.`;
    if (row.unit === WHEEL_TURNS && !((row.factor ?? 0) > 0))
      return `Enter the diameter of the puller wheel for “${row.name}”.`;
    if (row.factor === null || row.offset === null || row.factor === 0)
      return `Enter a factor other than 0 and an offset for “${row.name}”.`;
    if (row.from === 'choice' && row.role !== null && isTooMuch(row, nominalMm))
      return `“${row.name}” would be ${valueText(row.role, roleValue(row) ?? 0)}. Choose another unit, or another meaning.`;
  }
  return null;
}

/** Who has each role for certain. A role that is only proposed may still be given to another field. */
export function takenBy(rows: readonly SignalRow[]): ReadonlyMap<Role, string> {
  const certain = rows.filter(({ from }) => from !== 'proposal');
  return new Map(certain.flatMap(({ role, name }) => (role === null ? [] : [[role, name] as const])));
}

/** The last value in the unit of its role; null = none. */
export function roleValue(row: SignalRow): number | null {
  const { role, last, unit, factor, offset } = row;
  if (role === null || last === null || factor === null || offset === null) return null;
  const whole = inRoleUnit({ role, factor, offset, ...(unit === '' ? {} : { unit }) });
  return last * whole.factor + whole.offset;
}

/** A sensor on a hotend or a barrel reads no more (common practice, no source), °C. */
const HOTTEST_C = 600;
/** With what rounding may add. */
const FULL_POWER = 1.01;

/** Whether the last value contradicts the meaning, as it does in a wrong unit. */
export function isImpossible(row: SignalRow, nominalMm: number): boolean {
  const value = roleValue(row);
  if (value === null || row.role === null || !row.isSent || row.needsPins) return false;
  // Less than a quarter of the strand, but not the 0 of an empty gauge.
  if (/^d[xy]?$/.test(row.role)) return !canBeStrand(value, nominalMm) || (value > 0.01 && value < nominalMm / 4);
  if (/^[ts]\d/.test(row.role)) return value > HOTTEST_C;
  return /^p\d/.test(row.role) && (value < 0 || value > FULL_POWER);
}

/** The scale of all other temperatures and set-points if this one has another, as it does in a wrong unit; null = it fits. */
export function scaleOfOthers(row: SignalRow, rows: readonly SignalRow[]): string | null {
  const scaleOf = ({ role, unit }: SignalRow) =>
    /^[ts]\d/.test(role ?? '') ? (unitChoices('t1').find(({ code }) => code === unit.slice(-1))?.label ?? null) : null;
  const own = scaleOf(row);
  if (own === null) return null;
  const [scale = null, ...more] = new Set(rows.flatMap((one) => (one === row ? [] : (scaleOf(one) ?? []))));
  return more.length === 0 && scale !== own ? scale : null;
}

/** A diameter that a user chose, of which every unit makes something else: a count of the gauge's converter. */
function isRawGauge({ role, factor, offset }: Meaning, last: number | null, nominalMm: number): boolean {
  if (!/^d[xy]?$/.test(role ?? '') || factor !== 1 || offset !== 0 || last === null) return false;
  return !canBeStrand(last, nominalMm) && fittingUnit(last, nominalMm) === undefined;
}

function fittingUnit(raw: number, nominalMm: number): Unit | undefined {
  return unitChoices('d').find(({ factor }) => raw * factor > nominalMm / 2 && raw * factor < nominalMm * 2);
}

/** No gauge, and no output of a controller, shows so much, whereas a temperature may be impossible because its sensor is off. */
function isTooMuch(row: SignalRow, nominalMm: number): boolean {
  const value = roleValue(row);
  if (value === null || row.needsPins) return false;
  return /^d/.test(row.role ?? '') ? !canBeStrand(value, nominalMm) : /^p/.test(row.role ?? '') && value > FULL_POWER;
}

/** What a field is when a user gives it a role: in the unit that its values fit best. */
export function chosenMeaning(row: SignalRow, role: Role | null, nominalMm: number): Meaning {
  if (role === null) return NOTHING;
  const units = unitChoices(role);
  const sameKind = row.role !== null && unitFor(role, row.unit) !== null;
  if (sameKind) {
    const { unit, factor, offset, isCalibrated } = row;
    return { role, unit, factor, offset, isCalibrated };
  }
  const sent = row.printedUnit.replace('°', '').replace(/[µμ]/, 'u').toLowerCase();
  const printed = units.find(({ code }) => code.toLowerCase() === sent);
  const now = row.last;
  const fitting = /^d[xy]?$/.test(role) && now !== null ? fittingUnit(now, nominalMm) : undefined;
  return { ...NOTHING, role, ...inUnit(NOTHING, (printed ?? fitting ?? units[0])?.code ?? '') };
}

/** What changes with the unit: turns of the puller need the diameter of its wheel, which only the user knows. */
export function inUnit(from: Meaning, unit: string): Pick<Meaning, 'unit' | 'factor'> {
  if (unit === from.unit) return { unit, factor: from.factor };
  const factor = unit === WHEEL_TURNS ? null : from.unit === WHEEL_TURNS ? 1 : from.factor;
  return { unit, factor };
}

function meaningOf({ role, unit, factor, offset, calibrated }: Mapping): Meaning {
  if (!isRole(role)) return NOTHING;
  return { role, unit: unit ?? asSent(role).unit, factor, offset, isCalibrated: calibrated === true };
}

/** In the unit of the contract. */
function asSent(role: Role): Meaning {
  return { ...NOTHING, role, unit: unitChoices(role)[0]?.code ?? '' };
}
