/**
 * The names that the reading-line contract gives to the fields of a line. The simulator uses them too.
 */

/** The most zones that a line may have; zone 1 is nearest the hopper, the last is the die. */
export const ZONE_COUNT_MAX = 8;

type ZoneNumber = 1 | 2 | 3 | 4 | 5 | 6 | 7 | 8;

/** Bookkeeping fields order and date a reading. They are not measurements. */
type BookkeepingRole = 'ms' | 'us' | 'n';

export type MeasuredRole =
  | 'd'
  | 'dx'
  | 'dy'
  | `t${ZoneNumber}`
  | `s${ZoneNumber}`
  | `p${ZoneNumber}`
  | `f${ZoneNumber}`
  | 'v'
  | 'len'
  | 'rpm'
  | 'amp'
  | 'bar'
  | 'turns'
  | 'ta'
  | 'rh';

export type Role = BookkeepingRole | MeasuredRole;

/** Unit of each role's values, as the contract fixes it; '' where the value has no unit. */
export function unitOf(role: Role): string {
  switch (role) {
    case 'ms':
      return 'ms';
    case 'us':
      return 'µs';
    case 'd':
    case 'dx':
    case 'dy':
    case 'len':
      return 'mm';
    case 'v':
      return 'mm/s';
    case 'rpm':
      return '1/min';
    case 'amp':
      return 'A';
    case 'bar':
      return 'bar';
    case 'ta':
      return '°C';
    case 'rh':
      return '%';
    default:
      return role.startsWith('t') && role !== 'turns' ? '°C' : role.startsWith('s') ? '°C' : '';
  }
}

export const ZONES = [1, 2, 3, 4, 5, 6, 7, 8] as const;

/** Every role of the contract, in the order of its table. */
export const ROLES: readonly Role[] = [
  'ms',
  'us',
  'n',
  'd',
  'dx',
  'dy',
  ...ZONES.map((z) => `t${z}` as const),
  ...ZONES.map((z) => `s${z}` as const),
  ...ZONES.map((z) => `p${z}` as const),
  ...ZONES.map((z) => `f${z}` as const),
  'v',
  'len',
  'rpm',
  'amp',
  'bar',
  'turns',
  'ta',
  'rh',
];

const ROLE_SET: ReadonlySet<string> = new Set(ROLES);

export function isRole(name: string): name is Role {
  return ROLE_SET.has(name);
}

/** Sensor fault bits of `f1`…`f8`. */
export const SENSOR_FAULT = {
  openCircuit: 1,
  shortToGround: 2,
  shortToSupply: 4,
} as const;

/** A longer reading line, in bytes without its line end, is dropped as a whole. */
export const LINE_BYTES_MAX = 512;

/** `ms`, `us`, `n` and `len` are 32-bit counters. */
export const COUNTER_MODULUS = 2 ** 32;
