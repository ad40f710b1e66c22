import { type Role, unitOf, ZONES } from '../../server/reading/names.ts';
import { quantityOf, type Unit, unitsOf } from '../../server/reading/units.ts';
import { diameter, length, percent, speed, temperature } from '../format/numbers.ts';

const ROLE_NAMES: Record<string, string> = {
  ms: 'clock of the board',
  us: 'clock of the board (µs)',
  n: 'line number',
  d: 'diameter',
  dx: 'diameter, first axis',
  dy: 'diameter, second axis',
  v: 'strand speed',
  len: 'length counter',
  rpm: 'screw speed',
  amp: 'motor current',
  bar: 'melt pressure',
  turns: 'winder turns',
  ta: 'room temperature',
  rh: 'humidity of the room',
};
const ZONE_ROLE_NAMES: Record<string, string> = {
  t: 'temperature',
  s: 'set-point',
  p: 'heater power',
  f: 'sensor faults',
};

/** What a role measures, in words: "diameter", "temperature of zone 1". */
export function roleName(role: Role): string {
  return ROLE_NAMES[role] ?? `${ZONE_ROLE_NAMES[role.charAt(0)] ?? role} of zone ${role.slice(1)}`;
}

/** The units that a sketch may print a role in; empty = only that of the role. */
export function unitChoices(role: Role): readonly Unit[] {
  const quantity = quantityOf(role);
  return quantity === null ? [] : unitsOf(quantity);
}

/** Roles to choose from, by subject, for this many zones. */
export function roleGroups(zoneCount: number): readonly (readonly [title: string, roles: readonly Role[]])[] {
  const zones = ZONES.slice(0, zoneCount);
  return [
    ['Strand', ['d', 'dx', 'dy', 'v', 'len']],
    ['Heat', zones.flatMap((zone) => [`t${zone}`, `s${zone}`, `p${zone}`] as const)],
    ['Sensor faults', zones.map((zone) => `f${zone}` as const)],
    ['Machine', ['rpm', 'amp', 'bar', 'turns']],
    ['Room', ['ta', 'rh']],
    ['Board', ['ms', 'us', 'n']],
  ];
}

/** A value in the unit of its role, as pages write it. */
export function valueText(role: Role, value: number): string {
  if (role === 'd' || role === 'dx' || role === 'dy') return `${diameter(value)} mm`;
  if (role === 'v') return `${speed(value)} mm/s`;
  if (role === 'len') return length(value);
  if (role === 'ta' || /^[ts]\d$/.test(role)) return `${temperature(value)} °C`;
  if (/^p\d$/.test(role)) return percent(value);
  return `${rawText(value)} ${unitOf(role)}`.trim();
}

/** A number as a sketch prints it. */
export function rawText(value: number | null): string {
  return value === null ? '–' : String(Number(value.toPrecision(7)));
}

/** The range of a field so far: "1.74–1.77"; '' = always the same, or nothing yet. */
export function rangeText(lowest: number | null, highest: number | null): string {
  return lowest === null || highest === null || lowest === highest ? '' : `${rawText(lowest)}–${rawText(highest)}`;
}
