import { COUNTER_MODULUS, isRole, type MeasuredRole, type Role, unitOf, ZONES } from './names.ts';
import type { Layout, Signal, ZoneColumns } from './reading.ts';

/** A name on the cable, mapped to a role: value = raw × factor + offset. */
export interface RoleMapping {
  readonly name: string;
  readonly role: string;
  readonly factor: number;
  readonly offset: number;
}

/** Where the fields of a line form go: one entry per field, in the order of the line. */
export interface Binding {
  /** Column of the layout; -1 = bookkeeping. */
  readonly columns: Int32Array;
  readonly factors: Float64Array;
  readonly offsets: Float64Array;
  readonly lowest: Float64Array;
  readonly highest: Float64Array;
  /** Fields of the device clock and of the line number; -1 = none. */
  readonly uptimeField: number;
  readonly numberField: number;
  /** ms per unit of the clock field, and where its counter wraps, in ms (Infinity: a mapped clock, whose wrap is unknown). */
  readonly uptimeFactor: number;
  readonly uptimeModulusMs: number;
  /** Names of the fields, and the units printed behind their values. */
  readonly names: readonly string[];
  readonly units: readonly string[];
}

/** More signals than this can only come from garbage. */
const SIGNALS_MAX = 128;

/** Builds the layout name by name. A signal keeps its column; new ones are appended. */
export class LayoutBuilder {
  readonly #mappings: ReadonlyMap<string, RoleMapping & { role: Role }>;
  readonly #mappedRoles: ReadonlySet<Role>;
  readonly #signals: Signal[] = [];
  readonly #columnOfName = new Map<string, number>();
  readonly #columnOfRole = new Map<MeasuredRole, number>();
  #sendsDiameter = false;
  #layout = makeLayout([], new Map());

  constructor(mappings: readonly RoleMapping[]) {
    const byName = new Map<string, RoleMapping & { role: Role }>();
    const mappedRoles = new Set<Role>();
    for (const mapping of mappings) {
      const { role } = mapping;
      if (!isRole(role)) throw new TypeError(`“${role}” is not a role of the reading-line contract`);
      if (byName.has(mapping.name) || mappedRoles.has(role)) continue;
      byName.set(mapping.name, { ...mapping, role });
      mappedRoles.add(role);
    }
    this.#mappings = byName;
    this.#mappedRoles = mappedRoles;
  }

  get layout(): Layout {
    return this.#layout;
  }

  /** Whether the diameter is the mean of two axes, because no line sends it. */
  get derivesDiameter(): boolean {
    return !this.#sendsDiameter && this.#columnOfRole.has('dx') && this.#columnOfRole.has('dy');
  }

  /** Whether a name is a role of the contract, or mapped to one by the settings. */
  isKnown(name: string): boolean {
    return isRole(name) || this.#mappings.has(name);
  }

  /**
   * Assign a column to each name.
   * @param units printed after the values, for signals without a role; empty or '' = none
   * @param mappedOnly a standard name alone means nothing, because its unit is not known
   * @returns null = too many signals
   */
  bind(names: readonly string[], units: readonly string[] = [], mappedOnly = false): Binding | null {
    const fields = names.map((name, i) => ({ ...this.#fieldOf(name, mappedOnly), unit: units[i] ?? '' }));
    const added = fields.filter(({ role, title }) => !isBookkeeping(role) && !this.#columnOfName.has(title)).length;
    if (this.#signals.length + added + 1 > SIGNALS_MAX) return null;
    const columns = Int32Array.from(fields, ({ role, title, unit }) =>
      isBookkeeping(role) ? -1 : this.#column(title, role, unit),
    );
    const ranges = fields.map(({ role }) => (role === null ? ANY_NUMBER : plausibleRange(role)));
    const roles = fields.map(({ role }) => role);
    if (roles.includes('d')) this.#sendsDiameter = true;
    if (this.derivesDiameter) this.#column('d', 'd', '');
    const uptimeField = roles.includes('us') ? roles.indexOf('us') : roles.indexOf('ms');
    const clockFactor = fields[uptimeField]?.factor ?? 1;
    const unitMs = roles[uptimeField] === 'us' ? 0.001 : 1;
    const highest = Float64Array.from(ranges, ([, most]) => most);
    if (clockFactor !== 1) highest[uptimeField] = Number.MAX_SAFE_INTEGER;
    this.#layout = makeLayout(this.#signals, this.#columnOfRole);
    return {
      columns,
      factors: Float64Array.from(fields, ({ factor }) => factor),
      offsets: Float64Array.from(fields, ({ offset }) => offset),
      lowest: Float64Array.from(ranges, ([least]) => least),
      highest,
      uptimeField,
      numberField: roles.indexOf('n'),
      uptimeFactor: clockFactor * unitMs,
      uptimeModulusMs: clockFactor === 1 ? COUNTER_MODULUS * unitMs : Number.POSITIVE_INFINITY,
      names,
      units,
    };
  }

  /** A name's role and calibration, and the title of its signal. */
  #fieldOf(name: string, mappedOnly: boolean): { role: Role | null; title: string; factor: number; offset: number } {
    const mapping = this.#mappings.get(name);
    if (mapping !== undefined) return { ...mapping, title: mapping.role };
    const role = isRole(name) && !mappedOnly && !this.#mappedRoles.has(name) ? name : null;
    // A name of the contract that does not have its role here needs another title.
    const title = role === null && isRole(name) ? `${name} as sent` : name;
    return { role, title, factor: 1, offset: 0 };
  }

  #column(title: string, role: MeasuredRole | null, unit: string): number {
    const known = this.#columnOfName.get(title);
    if (known !== undefined) return known;
    const column = this.#signals.length;
    this.#signals.push({ name: title, role, unit: role === null ? unit : unitOf(role) });
    this.#columnOfName.set(title, column);
    if (role !== null) this.#columnOfRole.set(role, column);
    return column;
  }
}

function isBookkeeping(role: Role | null): role is 'ms' | 'us' | 'n' {
  return role === 'ms' || role === 'us' || role === 'n';
}

function makeLayout(signals: readonly Signal[], columns: ReadonlyMap<MeasuredRole, number>): Layout {
  const column = (role: MeasuredRole) => columns.get(role) ?? -1;
  const zones: ZoneColumns[] = [];
  for (const zone of ZONES) {
    const found = {
      zone,
      temperature: column(`t${zone}`),
      setpoint: column(`s${zone}`),
      power: column(`p${zone}`),
      fault: column(`f${zone}`),
    };
    if (Math.max(found.temperature, found.setpoint, found.power, found.fault) >= 0) zones.push(found);
  }
  return {
    signals: [...signals],
    diameter: column('d'),
    diameterX: column('dx'),
    diameterY: column('dy'),
    speed: column('v'),
    lengthCounter: column('len'),
    screwSpeed: column('rpm'),
    turns: column('turns'),
    zones,
  };
}

type Range = readonly [lowest: number, highest: number];

const ANY_NUMBER: Range = [Number.NEGATIVE_INFINITY, Number.POSITIVE_INFINITY];

/**
 * Range of the values that a line may carry for a role, in the role's unit. It is far wider than any extruder's, because
 * a raw count that is not mapped yet should be visible. Only values made of two joined numbers are outside it.
 * Common practice, no source.
 */
function plausibleRange(role: Role): Range {
  switch (role) {
    case 'ms':
    case 'us':
    case 'n':
      return [0, COUNTER_MODULUS - 1];
    case 'len':
    case 'turns':
      return [-COUNTER_MODULUS, COUNTER_MODULUS];
    case 'rpm':
    case 'amp':
    case 'bar':
      return [-1e6, 1e6];
    default:
      if (role.startsWith('f')) return [0, 65_535];
      return /^(?:t|s)/.test(role) ? [-300, 1e5] : [-1e5, 1e5];
  }
}
