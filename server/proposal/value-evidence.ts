import type { SeenField } from '../reading/seen-fields.ts';
import { type Quantity, type Unit, unitsOf, WHEEL_TURNS } from '../reading/units.ts';
import type { Kind } from './name-words.ts';

/** One reading of a field: its unit, and how well the values fit. */
export interface ValueScore {
  /** Code of `unitsOf`; '' = the kind has one unit only. */
  readonly unit: string;
  /** Negative infinity = the values cannot be that. */
  readonly score: number;
}

const IMPOSSIBLE = Number.NEGATIVE_INFINITY;
/** A printed unit says more than any range. */
const PRINTED = 4;

/** Units as sketches print them → code of `unitsOf`, by quantity. Common practice, no source. */
const PRINTED_UNITS: readonly (readonly [RegExp, Quantity, string])[] = [
  [/^(?:mm|мм)$/i, 'diameter', 'mm'],
  [/^(?:in|inch|")$/i, 'diameter', 'in'],
  [/^(?:mils?|thou)$/i, 'diameter', 'mil'],
  [/^(?:um|µm|μm|micron|microns|мкм)$/i, 'diameter', 'um'],
  [/^(?:°|deg ?)?c$/i, 'temperature', 'C'],
  [/^(?:°|deg ?)?f$/i, 'temperature', 'F'],
  [/^k$/i, 'temperature', 'K'],
  [/^%$/, 'power', '%'],
  [/^(?:mm\/s(?:ec)?|мм\/с)$/i, 'speed', 'mm/s'],
  [/^(?:m\/min|м\/мин)$/i, 'speed', 'm/min'],
  [/^mm\/min$/i, 'speed', 'mm/min'],
  [/^cm\/s$/i, 'speed', 'cm/s'],
  [/^m\/s$/i, 'speed', 'm/s'],
  [/^in\/min$/i, 'speed', 'in/min'],
  [/^in\/s$/i, 'speed', 'in/s'],
  [/^ft\/min$/i, 'speed', 'ft/min'],
  [/^(?:mm|мм)$/i, 'length', 'mm'],
  [/^(?:m|м)$/, 'length', 'm'],
  [/^cm$/i, 'length', 'cm'],
  [/^(?:in|inch|")$/i, 'length', 'in'],
  [/^ms$/i, 'clock', 'ms'],
  [/^s(?:ec)?$/i, 'clock', 's'],
];

/**
 * What the values say for a kind, for each unit that they could be in. All bounds are common practice, no source.
 * @param nominalMm what the diameter should be
 */
export function valueScores(field: SeenField, kind: Kind, nominalMm: number): readonly ValueScore[] {
  const quantity = QUANTITY[kind];
  if (field.count === 0) return [];
  if (quantity === null) {
    const printed =
      field.unit === '' ? 0 : isPrintedUnitOf(field.unit, kind) ? PRINTED : hasKnownUnit(field.unit) ? -PRINTED : 0;
    return [{ unit: '', score: plain(field, kind) + printed }];
  }
  return unitsOf(quantity).map((unit) => ({
    unit: unit.code,
    score: inUnit(field, kind, unit, nominalMm) + printed(field.unit, quantity, unit.code),
  }));
}

/** Whether the unit that is printed behind a value can only be one of this kind's. */
export function isPrintedUnitOf(unit: string, kind: Kind): boolean {
  const only = ONLY_UNIT[kind];
  if (only !== undefined) return only.test(unit);
  const quantity = QUANTITY[kind];
  return unit !== '' && PRINTED_UNITS.some(([pattern, of]) => of === quantity && pattern.test(unit));
}

function hasKnownUnit(unit: string): boolean {
  return [...PRINTED_UNITS.map(([pattern]) => pattern), ...Object.values(ONLY_UNIT), OTHER_UNIT].some((pattern) =>
    pattern.test(unit),
  );
}

/** The quantity of a kind; null = its values come in one unit only. */
export const QUANTITY: Readonly<Record<Kind, Quantity | null>> = {
  diameter: 'diameter',
  temperature: 'temperature',
  setpoint: 'temperature',
  room: 'temperature',
  power: 'power',
  speed: 'speed',
  length: 'length',
  uptime: 'clock',
  fault: null,
  screw: null,
  current: null,
  pressure: null,
  turns: null,
  humidity: null,
  number: null,
};

/** Printed units of kinds that have one unit. */
const ONLY_UNIT: Readonly<Partial<Record<Kind, RegExp>>> = {
  screw: /^(?:rpm|upm|(?:u|tr|r)\/min|об\/мин)$/i,
  current: /^A$/,
  pressure: /^bar$/i,
};

/** Units of what a line of filament has no role for. */
const OTHER_UNIT = /^(?:k?g|m?V|mA|k?Hz|psi)$/;

/** A printed unit of this quantity decides between its units; one of another quantity speaks against all. */
function printed(unit: string, quantity: Quantity, code: string): number {
  if (unit === '') return 0;
  const known = PRINTED_UNITS.filter(([pattern]) => pattern.test(unit));
  if (known.length === 0) return hasKnownUnit(unit) ? -PRINTED : 0;
  const own = known.find(([, of]) => of === quantity);
  if (own === undefined) return -PRINTED;
  return own[2] === code ? PRINTED : -PRINTED;
}

function inUnit(field: SeenField, kind: Kind, unit: Unit, nominalMm: number): number {
  const low = field.lowest * unit.factor + unit.offset;
  const high = field.highest * unit.factor + unit.offset;
  const last = field.last * unit.factor + unit.offset;
  const isWithin = (from: number, to: number) => low >= from && high <= to;
  switch (kind) {
    case 'diameter': {
      if (field.rising && field.count > 20) return IMPOSSIBLE;
      const now = Number.isNaN(last) ? high : last;
      if (now < nominalMm * 0.7 || now > nominalMm * 1.4 || low < 0) return IMPOSSIBLE;
      // A raw count is as likely to be as large as a diameter in hundredths.
      return (now > nominalMm * 0.88 && now < nominalMm * 1.12 ? 3 : 1) - (unit.code === '0.01mm' ? 1.5 : 0);
    }
    case 'temperature':
    case 'setpoint':
      return temperature(field, kind, unit, low, high);
    case 'room':
      return isWithin(-20, 60) && !isPart(unit) ? 0.5 + (unit.code === 'C' ? 0.5 : 0) : IMPOSSIBLE;
    case 'power':
      return power(field, unit);
    case 'speed':
      // Turns are a speed only for a wheel that is known.
      if (unit.code === WHEEL_TURNS || !isWithin(0, 400) || (field.rising && field.count > 20)) return IMPOSSIBLE;
      return 0.5 + (isWithin(0, 120) && high > 2 ? 0.5 : 0) + (high > 8 && high < 90 ? 0.3 : 0) + likelihood(unit);
    case 'length':
      if (low < 0) return IMPOSSIBLE;
      if (field.rising) return lengthRate(field, unit);
      return field.highest > field.lowest ? IMPOSSIBLE : 0;
    default:
      return uptime(field, unit);
  }
}

/** Tenths or hundredths of a degree, sent as whole numbers. */
function isPart({ code }: Unit): boolean {
  return code === '0.1C' || code === '0.01C';
}

/** Without a printed unit, most sketches send mm/s, and hardly any one of the rest. */
function likelihood({ code }: Unit): number {
  return code === 'mm/s' ? 0.2 : code === 'm/min' || code === 'mm/min' ? 0 : -0.6;
}

function temperature(field: SeenField, kind: Kind, unit: Unit, low: number, high: number): number {
  if (low < (kind === 'setpoint' ? -273.15 : -20) || high > 420 || (field.rising && field.perLine === 1))
    return IMPOSSIBLE;
  // A set-point of 0 in the sent unit means off; one of a few degrees is the set-point of something else.
  if (kind === 'setpoint' && field.lowest !== 0 && low < 30) return IMPOSSIBLE;
  if (isPart(unit) && (field.places > 0 || high < 10)) return IMPOSSIBLE;
  const usual = high > 330 ? -1 : high > 120 ? 1.5 : high > 30 ? 0.4 : 0.2;
  const rare = unit.code === 'C' ? 0.6 : unit.code === 'F' ? 0 : -0.3;
  const steady =
    kind === 'setpoint' ? (field.lowest === field.highest && field.count > 3 ? 0.5 : field.places === 0 ? 0 : -1) : 0;
  return usual + rare + steady;
}

function power({ lowest, highest, places, rising, count }: SeenField, unit: Unit): number {
  const full = Math.round(1 / unit.factor);
  if (lowest < 0 || highest > full || (rising && count > 40)) return IMPOSSIBLE;
  if (full > 1 && places > 2) return IMPOSSIBLE;
  const isFraction = highest <= 1 && places > 0;
  if (full === 1) return isFraction ? 1 : 0.1;
  if (isFraction) return -1;
  // At full power it stands at the end of its scale.
  if (highest === full && full > 100) return 1.1;
  // What it has reached tells the scale; a scale of which little was seen is less likely.
  return highest > full / 2.6 ? 0.8 : 0.3;
}

/** Strand of a bench line moves at 2 to 120 mm/s. */
function lengthRate({ perS }: SeenField, unit: Unit): number {
  if (Number.isNaN(perS)) return 1;
  const speedMmPerS = perS * unit.factor;
  return speedMmPerS >= 2 && speedMmPerS <= 120 ? 2 : speedMmPerS > 0.2 && speedMmPerS < 400 ? 0.5 : IMPOSSIBLE;
}

function uptime({ rising, perS }: SeenField, unit: Unit): number {
  if (!rising) return IMPOSSIBLE;
  const perSecond = perS * unit.factor;
  if (Number.isNaN(perSecond)) return 0;
  return Math.abs(perSecond - 1000) < 60 ? 4 : IMPOSSIBLE;
}

/** Kinds with one unit. */
function plain(field: SeenField, kind: Kind): number {
  const { lowest, highest, places, rising, perLine, count } = field;
  switch (kind) {
    case 'number':
      if (!rising || places > 0 || count <= 3) return IMPOSSIBLE;
      // The first lines are read late, together with those that confirm them.
      return Math.abs(perLine - 1) < 0.05 || highest - lowest === count - 1 ? 3 : IMPOSSIBLE;
    case 'turns':
      return lowest >= 0 && perLine >= 0 ? 0.5 : IMPOSSIBLE;
    case 'humidity':
      return lowest >= 0 && highest <= 100 ? 0.5 : IMPOSSIBLE;
    case 'fault':
      return places === 0 && lowest >= 0 && highest <= 7 ? 0.5 : IMPOSSIBLE;
    case 'screw':
      return lowest >= 0 && highest <= 500 && !(rising && count > 20) ? 0.5 : IMPOSSIBLE;
    default:
      return lowest >= -1 && highest <= 1000 && !(rising && count > 20) ? 0.3 : IMPOSSIBLE;
  }
}
