import { Problem } from '../problem/problem.ts';

/** A value of a field: a number in the unit of the field, a word, or yes or no. */
export type Value = number | string | boolean;

/**
 * What is known about the material of a run and its preparation, by the key of the field. A field that is missing is not
 * known. The key of a user's own field is its title, with its unit in square brackets if it has one: "Shredder screen [mm]".
 */
export type Values = Readonly<Record<string, Value>>;

export interface PreparationField {
  readonly key: string;
  readonly title: string;
  /** '' for words, for yes or no, and for a bare count. */
  readonly unit: string;
  /** `any`: a user's own field, which holds a number or a word. */
  readonly kind: 'number' | 'word' | 'yesNo' | 'any';
  readonly minimum?: number;
  readonly maximum?: number;
}

const number = (key: string, title: string, unit: string, minimum: number, maximum: number): PreparationField => ({
  key,
  title,
  unit,
  kind: 'number',
  minimum,
  maximum,
});

/** How much was fed is a fact of one run. It is no way of preparing the material, so no cause of blobs. */
export const FED_KG = 'fedKg';

/** Values that say how the material was prepared, and could be the same in another run. */
export function preparationOnly(values: Values): Values {
  return Object.fromEntries(Object.entries(values).filter(([key]) => key !== FED_KG));
}

/** In the order in which they are shown. The bounds only catch slips of the pen: common practice, no source. */
export const PREPARATION_FIELDS: readonly PreparationField[] = [
  number('dryingH', 'Drying time', 'h', 0, 240),
  number('dryingC', 'Drying temperature', '°C', 20, 150),
  number('sieveMm', 'Sieve mesh', 'mm', 0, 50),
  { key: 'magnet', title: 'Magnet', unit: '', kind: 'yesNo' },
  number('newPelletsPercent', 'New pellets', '%', 0, 100),
  { key: 'colour', title: 'Colour', unit: '', kind: 'word' },
  number('wasteAgeMonths', 'Age of the waste', 'months', 0, 600),
  number('timesExtruded', 'Times extruded before', '', 0, 50),
  number('dieC', 'Die set-point', '°C', 50, 450),
  ...Array.from({ length: 7 }, (_, i) => number(`zone${i + 1}C`, `Zone ${i + 1} set-point`, '°C', 20, 450)),
  number('speedMmPerS', 'Speed of the strand', 'mm/s', 0.1, 2000),
  number(FED_KG, 'Material fed', 'kg', 0.001, 1000),
];

const BY_KEY = new Map(PREPARATION_FIELDS.map((field) => [field.key, field]));
const TEXT_MAX = 60;
const FIELDS_MAX = 40;

/** The field of a key, known or a user's own. */
export function fieldOf(key: string): PreparationField {
  const known = BY_KEY.get(key);
  if (known !== undefined) return known;
  const [, title = key, unit = ''] = /^(.*?)\s*\[(.*)\]$/.exec(key) ?? [];
  return { key, title, unit, kind: 'any' };
}

/** How many of the field's unit one of another unit is, and what is added after. */
const UNITS: Readonly<Record<string, Readonly<Record<string, readonly [factor: number, offset?: number]>>>> = {
  h: {
    h: [1],
    hr: [1],
    hrs: [1],
    hour: [1],
    hours: [1],
    min: [1 / 60],
    minutes: [1 / 60],
    d: [24],
    day: [24],
    days: [24],
  },
  '°C': { '°c': [1], c: [1], '°f': [5 / 9, -160 / 9], f: [5 / 9, -160 / 9], k: [1, -273.15] },
  mm: { mm: [1], µm: [0.001], μm: [0.001], um: [0.001], cm: [10], in: [25.4] },
  '%': { '%': [1], percent: [1] },
  months: {
    months: [1],
    month: [1],
    years: [12],
    year: [12],
    weeks: [12 / 52],
    week: [12 / 52],
    days: [12 / 365],
    day: [12 / 365],
  },
  'mm/s': { 'mm/s': [1], 'm/min': [1000 / 60], 'm/s': [1000], 'cm/s': [10] },
  kg: { kg: [1], g: [0.001], gram: [0.001], grams: [0.001], lb: [0.45359237], lbs: [0.45359237], oz: [0.028349523125] },
  '': { times: [1], time: [1], '×': [1] },
};

/** Words that say that a step was left out. */
const NONE = /^(no|none|never|not|without|un(dried|sieved|screened)|not (dried|sieved|screened|at all)|wet|-|–)$/i;
/** Fields for which “none” is a value of 0; a temperature or a speed cannot be none. */
const ZERO_IS_NONE: ReadonlySet<string> = new Set(['dryingH', 'sieveMm', 'newPelletsPercent', 'timesExtruded']);

/**
 * A number of a field from what a user typed: "8", "8 h", "480 min", "undried". Null = it cannot be one.
 * Decimal comma and point are both accepted.
 */
export function numberIn(field: PreparationField, typed: string): number | null {
  const text = typed.trim();
  if (ZERO_IS_NONE.has(field.key) && NONE.test(text)) return 0;
  const [, digits, unit = ''] = /^([-−]?\d+(?:[.,]\d+)?)\s*(\D*)$/.exec(text) ?? [];
  if (digits === undefined) return null;
  const value = Number(digits.replace(',', '.').replace('−', '-'));
  const named = unit.trim().toLowerCase();
  if (named === '' || named === field.unit.toLowerCase()) return value;
  const conversion = UNITS[field.unit]?.[named];
  if (conversion === undefined) return null;
  const [factor, offset = 0] = conversion;
  return Number((value * factor + offset).toPrecision(6));
}

/**
 * The values as they are stored: numbers in the unit of their field, words trimmed. Numbers may come as text with a unit.
 * @throws Problem `bad-request` that points to the field
 */
export function checkedValues(given: Values): Values {
  const entries = Object.entries(given).map(([key, value]) => [key.trim(), checkedValue(key, value)] as const);
  if (entries.length > FIELDS_MAX)
    throw new Problem('bad-request', `A run cannot have ${entries.length} fields.`, `Keep at most ${FIELDS_MAX}.`);
  return Object.fromEntries(entries.filter(([, value]) => value !== ''));
}

function checkedValue(key: string, value: Value): Value {
  const field = fieldOf(key);
  const pointer = `/${key.replaceAll('~', '~0').replaceAll('/', '~1')}`;
  const refuse = (what: string, remedy: string): never => {
    throw new Problem('bad-request', what, remedy, { pointer });
  };
  const name = field.title;
  if (field.title.trim() === '' || key.length > TEXT_MAX)
    refuse(`A field needs a name of 1 to ${TEXT_MAX} characters.`, 'Give it a shorter one.');
  if (field.kind === 'yesNo')
    return typeof value === 'boolean' ? value : refuse(`${name} is yes or no, not “${value}”.`, 'Choose one of them.');
  if (field.kind === 'word' || (field.kind === 'any' && typeof value === 'string')) {
    const text = String(value).trim();
    const asNumber = field.kind === 'any' ? numberIn(field, text) : null;
    if (asNumber !== null) return asNumber;
    return text.length <= TEXT_MAX ? text : refuse(`${name} is too long.`, `Use at most ${TEXT_MAX} characters.`);
  }
  if (field.kind === 'any') return value;
  const read = typeof value === 'string' ? numberIn(field, value) : typeof value === 'number' ? value : null;
  const unit = field.unit === '' ? '' : ` ${field.unit}`;
  if (read === null || !Number.isFinite(read))
    return refuse(
      `“${value}” cannot be read as ${name.toLowerCase()}.`,
      `Give a number${field.unit && ` in ${field.unit}`}.`,
    );
  const { minimum = Number.NEGATIVE_INFINITY, maximum = Number.POSITIVE_INFINITY } = field;
  if (read < minimum || read > maximum)
    return refuse(
      `${name} of ${read}${unit} is outside ${minimum} to ${maximum}${unit}.`,
      'Check the number and its unit.',
    );
  return read;
}

/** A value in words, with its field: "dried 8 h", "die set-point 195 °C", "magnet", "shredder screen 6 mm". */
export function valueText(key: string, value: Value): string {
  const { title, unit } = fieldOf(key);
  switch (key) {
    case 'dryingH':
      return value === 0 ? 'not dried' : `dried ${value} h`;
    case 'dryingC':
      return `dried at ${value} °C`;
    case 'sieveMm':
      return value === 0 ? 'not sieved' : `sieved ${value} mm`;
    case 'newPelletsPercent':
      return value === 0 ? 'no new pellets' : `${value} % new pellets`;
    case 'colour':
      return String(value);
    case 'wasteAgeMonths':
      return `waste ${value} months old`;
    case 'timesExtruded':
      return `extruded ${value} times before`;
    case 'speedMmPerS':
      return `${value} mm/s`;
    case FED_KG:
      return `${value} kg fed`;
  }
  const name = title.toLowerCase();
  if (typeof value === 'boolean') return value ? name : `no ${name}`;
  return `${name} ${value}${unit === '' ? '' : ` ${unit}`}`;
}

/** A value beside the title of its field: "8 h", "grey", "yes". */
export function levelText(key: string, value: Value): string {
  const { unit } = fieldOf(key);
  if (typeof value === 'boolean') return value ? 'yes' : 'no';
  return unit === '' ? String(value) : `${value} ${unit}`;
}

/** All values in words, in the order of the fields: "dried 8 h at 50 °C, sieved 4 mm, magnet". */
export function valuesText(values: Values): string {
  const { dryingH, dryingC } = values;
  const joined = typeof dryingH === 'number' && dryingH > 0 && dryingC !== undefined;
  return keysInOrder(values)
    .filter((key) => !(key === 'dryingC' && (joined || dryingH === 0)))
    .map((key) => (key === 'dryingH' && joined ? `dried ${dryingH} h at ${dryingC} °C` : valueText(key, values[key]!)))
    .join(', ');
}

/** The keys of the values: known fields first, then a user's own by name. */
export function keysInOrder(values: Values): readonly string[] {
  const own = Object.keys(values).filter((key) => !BY_KEY.has(key));
  return [...PREPARATION_FIELDS.map(({ key }) => key).filter((key) => key in values), ...own.toSorted()];
}
